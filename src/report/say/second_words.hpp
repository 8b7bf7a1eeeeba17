#pragma once

#include <string>
#include <string_view>
#include <vector>

/// What people are told where two models of the loss may part (link::try_first()).

namespace earshot::link {
struct TwoWayPath;
}
namespace earshot::propagation {
struct SecondOpinion;
}

namespace earshot::report {

/// Stands after what link::try_first() is true of.
inline constexpr std::string_view try_mark = "*";

/// What the mark means, in a few words for a key.
inline constexpr std::string_view try_key = "* test this one on foot first";

/// The line under a table with marks: "* Test this one on foot first: ...".
[[nodiscard]] std::string try_words();

/// What one method makes of a path.
struct MethodWord {
    std::string_view method;
    double loss_db = 0.0; ///< outward, woodland included
    double out_db = 0.0;  ///< margins
    double back_db = 0.0;

    /// How the weaker way reads.
    [[nodiscard]] std::string_view word() const;
};

/// The second model's word on a path, and the reason where the two part.
class SecondWords {
public:
    SecondWords(const link::TwoWayPath& path, double wanted_margin_db);

    /// The method of the path first; there is no other where none applies.
    [[nodiscard]] const std::vector<MethodWord>& methods() const { return methods_; }
    /// Name of the second method; empty if there is none.
    [[nodiscard]] std::string_view second() const { return second_; }
    [[nodiscard]] bool applies() const { return applies_; }
    /// Whether the contact is to be tested first.
    [[nodiscard]] bool try_first() const { return try_first_; }
    /// "Two edges of the ground 3.2 km apart: short-range and irregular-terrain differ by 41 dB;
    /// test it on foot before you count on it.", or why the second has no say. Empty if there is no
    /// second.
    [[nodiscard]] const std::string& words() const { return words_; }
    /// What of the path lies outside the second's limits, a sentence each.
    [[nodiscard]] const std::vector<std::string>& warnings() const { return warnings_; }

private:
    std::vector<MethodWord> methods_;
    std::string_view second_;
    bool applies_ = false;
    bool try_first_ = false;
    std::string words_;
    std::vector<std::string> warnings_;
};

/// What the pure standard makes of a path predicted by the one for small radios, and whether the
/// verdict would be another; empty if it differs by less than 1 dB.
[[nodiscard]] std::string standard_words(const link::TwoWayPath& path, double wanted_margin_db);

/// The end of a verdict that hangs on the choice of the model; else empty.
[[nodiscard]] std::string hangs_words(const link::TwoWayPath& path, double wanted_margin_db);

} // namespace earshot::report
