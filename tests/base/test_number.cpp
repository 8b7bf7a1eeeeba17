#include "base/number.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

// The C++ standard, [charconv.from.chars]: what std::from_chars reads with chars_format::general.
TEST_CASE("A number is read whole, and exactly") {
    CHECK(earshot::number_in("146.52") == 146.52);
    CHECK(earshot::number_in("-.5") == -0.5);
    CHECK(earshot::number_in("7.") == 7.0);
    CHECK(earshot::number_in("1e-3") == 1e-3);
    CHECK(earshot::number_in("1.7976931348623157E+308") == std::numeric_limits<double>::max());
    CHECK(std::isnan(*earshot::number_in("nan")));
    CHECK(std::isinf(*earshot::number_in("-inf")));
    for (const char* text : {"", "-", ".", "+1", " 1", "1 ", "0x10", "1,5", "1e", "1e999", "--1"}) {
        CAPTURE(text);
        CHECK_FALSE(earshot::number_in(text));
    }
}

TEST_CASE("What follows a number is left") {
    CHECK(earshot::leading_number("5e2m")->rest == "m");
    CHECK(earshot::leading_number("5 e2")->rest == " e2");
    CHECK(earshot::leading_number("5em")->rest == "em");
    CHECK_FALSE(earshot::leading_number("e5"));
}

TEST_CASE("Leading digits are read as far as they go and fit") {
    CHECK(earshot::leading_digits("123 kB") == 123U);
    CHECK(earshot::leading_digits("18446744073709551615") == 18446744073709551615U);
    CHECK_FALSE(earshot::leading_digits("18446744073709551616"));
    CHECK_FALSE(earshot::leading_digits("max"));
    CHECK_FALSE(earshot::leading_digits("-1"));
}
