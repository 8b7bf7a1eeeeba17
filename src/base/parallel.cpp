#include "base/parallel.hpp"

namespace earshot {

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
