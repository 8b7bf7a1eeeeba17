#include "base/parallel.hpp"

#include <sched.h>

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace earshot {

unsigned default_thread_count() {
    cpu_set_t allowed;
    CPU_ZERO(&allowed);
    if (sched_getaffinity(0, sizeof(allowed), &allowed) == 0) {
        return static_cast<unsigned>(std::max(1, CPU_COUNT(&allowed)));
    }
    return std::max(1U, std::thread::hardware_concurrency());
}

void on_threads(std::size_t count, unsigned threads,
                const std::function<void(std::size_t, unsigned)>& task) {
    std::atomic<std::size_t> next{0};
    std::exception_ptr failure;
    std::mutex failure_mutex;
    const auto work = [&](unsigned worker) {
        try {
            for (std::size_t index = next++; index < count; index = next++) {
                task(index, worker);
            }
        } catch (...) {
            next = count;
            const std::scoped_lock lock(failure_mutex);
            if (!failure) {
                failure = std::current_exception();
            }
        }
    };
    const std::size_t helpers =
        std::min<std::size_t>(std::max(1U, threads), std::max<std::size_t>(count, 1)) - 1;
    {
        std::vector<std::jthread> pool;
        pool.reserve(helpers);
        for (unsigned worker = 1; worker <= helpers; ++worker) {
            try {
                pool.emplace_back(work, worker);
            } catch (const std::system_error&) {
                break; // the system gives no more threads: those that there are do it all
            }
        }
        work(0);
    }
    if (failure) {
        std::rethrow_exception(failure);
    }
}

} // namespace earshot
