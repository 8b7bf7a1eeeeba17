#pragma once

#include <cstddef>
#include <functional>

namespace earshot {

/// Number of threads to use when the user names none: the processors this process may run on.
[[nodiscard]] unsigned default_thread_count();

/// Calls `task(index, worker)` once for each index in [0, count), on `threads` threads, in no
/// particular order. `worker` is in [0, threads) and is the same for all calls made by one thread.
/// The first exception thrown by a task stops the rest and is rethrown here.
void parallel_for(std::size_t count, unsigned threads,
                  const std::function<void(std::size_t index, unsigned worker)>& task);

/// The same where it takes more than one: without threads nobody calls it.
void on_threads(std::size_t count, unsigned threads,
                const std::function<void(std::size_t index, unsigned worker)>& task);

} // namespace earshot
