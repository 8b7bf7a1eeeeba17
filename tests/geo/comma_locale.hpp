#pragma once

#include <locale>

/// While it lives, the global C++ locale writes and reads decimals with a comma. Built from a facet
/// because the system may have no such locale installed.
class CommaLocale {
public:
    CommaLocale() : before_(std::locale::global(std::locale(std::locale(), new Comma))) {}
    ~CommaLocale() { std::locale::global(before_); }
    CommaLocale(const CommaLocale&) = delete;
    CommaLocale& operator=(const CommaLocale&) = delete;

private:
    struct Comma : std::numpunct<char> {
        [[nodiscard]] char do_decimal_point() const override { return ','; }
    };
    std::locale before_;
};
