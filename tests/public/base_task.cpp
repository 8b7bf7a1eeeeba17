#include "earshot/base/task.hpp"

#include <catch2/catch.hpp>

#include <vector>

namespace {

using Path = int;
int predicted = 0;

void predict(Path path) {
    predicted += path;
}

} // namespace

TEST_CASE("example of base/task.hpp") {
    earshot::Task& task = earshot::silent_task();
    const std::vector<Path> paths{1, 2, 3};
    task.begin("paths", paths.size());
    for (const Path& path : paths) {
        task.throw_if_stopped();
        predict(path);
        task.advance(1);
    }
    CHECK(predicted == 6);
}
