#pragma once

#include "field/comparison.hpp"
#include "field/correction_fit.hpp"
#include "field/field_log.hpp"
#include "field/verification.hpp"
#include "field/walk_test.hpp"

#include <string>
#include <vector>

/// Walk tests, logs beside their predictions, and the corrections made of them.

namespace earshot::report {

/// A log beside its predictions. docs/field-logs.md lists all fields of the files.
struct FieldComparison {
    field::FieldLog log;
    field::Predictions predictions;
    field::Verification verification;
    std::vector<std::string> notes; ///< besides those of the log, a sentence each
};

/// For people: a table by group, what the levers came to, rows that could not be used. With
/// `every_call` each call beside its prediction as well.
[[nodiscard]] std::string comparison_text(const FieldComparison& comparison, bool every_call);
[[nodiscard]] std::string comparison_json(const FieldComparison& comparison);
/// One row for each call.
[[nodiscard]] std::string comparison_csv(const FieldComparison& comparison);
/// A point for each stop, RFC 7946.
[[nodiscard]] std::string comparison_geojson(const FieldComparison& comparison);

/// A walk test for people: each stop with what is predicted there.
[[nodiscard]] std::string walk_text(const field::WalkPlan& plan);
[[nodiscard]] std::string walk_json(const field::WalkPlan& plan);

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
