#include "base/parallel.hpp"

#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"

namespace earshot {

void Task::throw_if_stopped() const {
    if (stop_requested()) {
        throw Error(Fault::stopped, "stopped before the work was done; nothing was written");
    }
}

Task& silent_task() {
    static Task silent;
    return silent;
}

void parallel_for(std::size_t count, unsigned threads,
                  const std::function<void(std::size_t, unsigned)>& task) {
    if (threads > 1 && count > 1) {
        on_threads(count, threads, task);
        return;
    }
    for (std::size_t index = 0; index < count; ++index) {
        task(index, 0);
    }
}

} // namespace earshot
