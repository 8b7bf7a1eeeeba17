#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <cctype>

namespace earshot::report {

std::string cautions() {
    return "A prediction is no guarantee: do not stake a life on it. Mind your licence and its "
           "power limit, power lines and lightning near masts, guying, and RF exposure. Local "
           "codes and licensed practice come first.";
}

std::string notes_text(const std::vector<std::string>& notes) {
    std::string text;
    for (const std::string& note : notes) {
        text += fmt::format("Note: {}.\n", note);
    }
    return text;
}

std::string sentence(std::string words) {
    if (!words.empty()) {
        words.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(words.front())));
        words += words.back() == '.' ? "" : ".";
    }
    return words;
}

std::string_view yes_or_no(bool value) {
    return value ? "yes" : "no";
}

} // namespace earshot::report
