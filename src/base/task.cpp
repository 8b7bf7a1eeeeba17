#include "earshot/base/task.hpp"

#include "earshot/base/error.hpp"

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

} // namespace earshot
