#include "earshot/base/error.hpp"

#include <catch2/catch.hpp>

#include <iostream>

namespace {

void predict() {
    earshot::throw_input("hills.tif: there is no such file; check the name");
}

int run() {
    using namespace earshot;
    try {
        predict();
    } catch (const Error& error) {
        std::cerr << error.what() << '\n'; // one line: what is wrong, where, what to do
        return error.fault() == Fault::usage ? 1 : 2;
    }
    return 0;
}

} // namespace

TEST_CASE("example of base/error.hpp") {
    CHECK(run() == 2);
}
