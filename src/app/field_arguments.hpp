#pragma once

#include "app/arguments.hpp"
#include "app/scenario_arguments.hpp"
#include "field/comparison.hpp"
#include "field/field_log.hpp"
#include "scenario/scenario.hpp"

#include <string>

namespace earshot::app {

/// Who stays, who moves and over what ground, for the commands about walk tests.
struct FieldArguments {
    SharedArguments shared;
    RadioArguments at_base, mover;
    std::string base;
    unsigned threads = 1;

    FieldArguments();
    void add_to(const Options& options);
};

/// What the options and the scenario come to.
class FieldInputs {
public:
    /// `arguments` must outlive this. Without a scenario --base must be a position.
    explicit FieldInputs(const FieldArguments& arguments);

    [[nodiscard]] const SharedInputs& shared() const { return shared_; }
    /// The scenario, or one made of the options; its listener is the mover, and the base is one of
    /// its stations.
    [[nodiscard]] const scenario::Scenario& scenario() const { return scenario_; }
    [[nodiscard]] const link::Station& base() const;
    /// All that predicting calls takes; refers to this, to `ground` and to `layers`.
    [[nodiscard]] field::ComparisonRequest request(const terrain::HeightGrid& ground,
                                                   const LayersOver& layers, double length_m) const;

private:
    const FieldArguments& arguments_;
    SharedInputs shared_;
    scenario::Scenario scenario_;
    std::string base_name_;
};

/// A set-up as an option takes it: the name of one of the scenario, or words for power, antenna,
/// its height and where it is carried, "5W half-wave 3m face". Throws Error(Fault::usage).
[[nodiscard]] field::SetUp parse_set_up(const scenario::Scenario& scenario,
                                        const std::string& text);

} // namespace earshot::app
