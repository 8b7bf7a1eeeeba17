#pragma once

#include <string>
#include <vector>

namespace earshot::field {
struct CorrectionFit;
struct FieldLog;
struct Predictions;
} // namespace earshot::field

namespace earshot::report {

/// A log and the field correction that was made of it.
struct CorrectedLog {
    const field::FieldLog& log;
    const field::Predictions& predictions;
    const field::CorrectionFit& fit;
    std::vector<std::string> notes;
};

/// For people: each term with its interval, what it foretells, and the rows that were left out.
[[nodiscard]] std::string correction_text(const CorrectedLog& corrected);
[[nodiscard]] std::string correction_json(const CorrectedLog& corrected);

} // namespace earshot::report
