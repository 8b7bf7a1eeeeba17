#include "base/parallel.hpp"

#include <catch2/catch.hpp>

#include <atomic>
#include <map>
#include <mutex>
#include <set>
#include <stdexcept>
#include <thread>
#include <vector>

using earshot::parallel_for;

TEST_CASE("Every index is done once, whatever the numbers of indices and threads") {
    for (const std::size_t count : {0U, 1U, 2U, 7U, 1000U}) {
        for (const unsigned threads : {0U, 1U, 2U, 3U, 16U}) {
            std::vector<std::atomic<int>> calls(count);
            parallel_for(count, threads, [&](std::size_t index, unsigned) { ++calls.at(index); });
            for (std::size_t index = 0; index < count; ++index) {
                CAPTURE(count, threads, index);
                CHECK(calls[index] == 1);
            }
        }
    }
}

TEST_CASE("A worker number stays below the number of threads and names one thread") {
    constexpr unsigned threads = 4;
    std::mutex mutex;
    std::map<unsigned, std::set<std::thread::id>> threads_by_worker;
    parallel_for(500, threads, [&](std::size_t, unsigned worker) {
        {
            const std::scoped_lock lock(mutex);
            threads_by_worker[worker].insert(std::this_thread::get_id());
        }
        std::this_thread::yield();
    });
    CHECK_FALSE(threads_by_worker.empty());
    for (const auto& [worker, ids] : threads_by_worker) {
        CHECK(worker < threads);
        CHECK(ids.size() == 1);
    }
}

TEST_CASE("Threads run at the same time") {
    // Each of two tasks waits for the other to begin, which one thread alone could never do.
    std::atomic<int> begun{0};
    parallel_for(2, 2, [&](std::size_t, unsigned) {
        ++begun;
        while (begun < 2) {
            std::this_thread::yield();
        }
    });
    CHECK(begun == 2);
}

TEST_CASE("The exception of a task is rethrown to the caller") {
    for (const unsigned threads : {1U, 4U}) {
        CHECK_THROWS_WITH(parallel_for(1000, threads,
                                       [](std::size_t index, unsigned) {
                                           if (index == 10) {
                                               throw std::runtime_error("task 10 failed");
                                           }
                                       }),
                          "task 10 failed");
    }
}

TEST_CASE("After an exception no further task begins") {
    std::size_t calls = 0;
    CHECK_THROWS(parallel_for(1000, 1, [&](std::size_t, unsigned) {
        ++calls;
        throw std::runtime_error("the first task failed");
    }));
    CHECK(calls == 1);
}

TEST_CASE("There is at least one thread to use by default") {
    CHECK(earshot::default_thread_count() >= 1);
}
