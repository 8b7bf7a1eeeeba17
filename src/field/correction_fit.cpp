#include "field/correction_fit.hpp"

#include "base/named.hpp"
#include "base/require.hpp"
#include "link/quality.hpp"
#include "scenario/text_table.hpp"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace earshot::field {
namespace {

// Spreads that logs of handhelds are likely to show, and the deviation of their logarithm: within a
// factor of 1.6 two times of three. Common practice, no source.
constexpr double within_stop_typical_db = 4.0;
constexpr double spread_log_deviation = 0.5;
// How far listeners' classes may begin from where they are taken to. Common practice, no source.
constexpr double limit_prior_db = 2.0;
// No prediction over a profile of the ground is better. Common practice, no source.
constexpr double least_prediction_deviation_db = 3.0;

/// What a term multiplies, for each call, and what it is called.
struct Column {
    maths::FitTerm term;
    std::vector<double> x;
    std::string antenna; ///< empty if it is none
};

Column column(const std::string& name, double prior_deviation, std::vector<double> x,
              const std::string& antenna = {}) {
    Column made;
    made.term.name = name;
    made.term.prior_deviation = prior_deviation;
    made.x = std::move(x);
    made.antenna = antenna;
    return made;
}

/// The share of a column that other columns, and a constant, do not account for.
double own_share(const std::vector<double>& x, const std::vector<Column>& others) {
    const auto rows = static_cast<Eigen::Index>(x.size());
    Eigen::MatrixXd design(rows, static_cast<Eigen::Index>(others.size()) + 1);
    design.col(0).setOnes();
    for (std::size_t k = 0; k < others.size(); ++k) {
        design.col(static_cast<Eigen::Index>(k) + 1) =
            Eigen::Map<const Eigen::VectorXd>(others[k].x.data(), rows);
    }
    const Eigen::VectorXd column = Eigen::Map<const Eigen::VectorXd>(x.data(), rows);
    const double variance = (column.array() - column.mean()).square().sum();
    const Eigen::VectorXd rest = column - design * design.colPivHouseholderQr().solve(column);
    return variance > 0.0 ? rest.squaredNorm() / variance : 0.0;
}

class Fitter {
public:
    Fitter(std::span<const MeasuredCall> calls, const CorrectionRequest& request)
        : calls_(calls), request_(request) {
        Numbering stops;
        for (const MeasuredCall& call : calls) {
            stops_.push_back(stops(call.stop));
        }
        result_.calls = calls.size();
        result_.stops = stops.size();
        result_.readings = static_cast<std::size_t>(
            std::count_if(calls.begin(), calls.end(),
                          [](const MeasuredCall& call) { return call.margin_db.has_value(); }));
    }

    CorrectionFit fit() && {
        require_enough();
        columns_.push_back(column("offset", offset_prior_db, std::vector(calls_.size(), 1.0)));
        consider_woods();
        consider_antennas();
        maths::OrdinalFit found = fit_telling_terms();
        take_terms(found);
        take_spreads(found);
        if (request_.leave_stops_out) {
            leave_stops_out();
        }
        return std::move(result_);
    }

private:
    void require_enough() const {
        require_input(calls_.size() >= least_calls && result_.stops >= least_stops,
                      "the log tells too little for a correction: {} calls at {} stops; {} calls "
                      "at {} stops are the least",
                      calls_.size(), result_.stops, least_calls, least_stops);
        const auto all_scored = [&](int score) {
            return std::all_of(calls_.begin(), calls_.end(), [&](const MeasuredCall& call) {
                return !call.margin_db && call.score == score;
            });
        };
        const int best = static_cast<int>(link::readability_classes().size()) - 1;
        require_input(!all_scored(0),
                      "every call of the log scored 0: that says how bad it was at most but not "
                      "how bad; test nearer, until some calls are heard");
        require_input(!all_scored(best),
                      "every call of the log scored {}: that says how good it was at least but not "
                      "how good; test farther out, until some calls are lost",
                      best);
    }

    /// Stops with a call of which something is true.
    template <typename Test>
    [[nodiscard]] std::size_t stops_where(Test&& test) const {
        std::set<std::size_t> found;
        for (std::size_t k = 0; k < calls_.size(); ++k) {
            if (test(k)) {
                found.insert(stops_[k]);
            }
        }
        return found.size();
    }

    void consider_woods() {
        constexpr double among_trees_db = 1.0;
        constexpr double least_range_db = 4.0;
        std::vector<double> x;
        for (const MeasuredCall& call : calls_) {
            x.push_back(-call.woodland_db);
        }
        const auto [least, most] = std::minmax_element(x.begin(), x.end());
        RefusedTerm refused;
        refused.stops =
            stops_where([&](std::size_t k) { return calls_[k].woodland_db >= among_trees_db; });
        refused.least_db = -*most;
        refused.most_db = -*least;
        if (refused.stops == 0) {
            refused.why = TermRefusal::no_woods;
        } else if (refused.stops < least_stops_of_a_kind) {
            refused.why = TermRefusal::few_woods;
        } else if (*most - *least < least_range_db) {
            refused.why = TermRefusal::woods_alike;
        } else {
            columns_.push_back(column("losses in woods", woodland_prior, std::move(x)));
            return;
        }
        result_.refused.push_back(refused);
    }

    void consider_antennas() {
        std::map<std::string, std::vector<double>> ends; // of each antenna, at each call
        for (std::size_t k = 0; k < calls_.size(); ++k) {
            for (const std::string& antenna : calls_[k].antennas) {
                auto& counts = ends.try_emplace(antenna, calls_.size(), 0.0).first->second;
                counts[k] += 1.0;
            }
        }
        // An antenna that is in all calls alike cannot be told from the offset.
        for (auto entry = ends.begin(); entry != ends.end();) {
            const auto [least, most] =
                std::minmax_element(entry->second.begin(), entry->second.end());
            if (*least == *most) {
                result_.in_the_offset.push_back(entry->first);
                entry = ends.erase(entry);
            } else {
                ++entry;
            }
        }
        set_reference(ends);
        for (const auto& [antenna, counts] : ends) {
            consider_antenna(antenna, counts);
        }
    }

    /// Where every call has as many of the antennas that vary, one of them, the most used, is what
    /// the others are compared with.
    void set_reference(std::map<std::string, std::vector<double>>& ends) {
        if (ends.empty()) {
            return;
        }
        std::vector<double> together(calls_.size(), 0.0);
        auto most_used = ends.begin();
        double most = 0.0;
        for (auto entry = ends.begin(); entry != ends.end(); ++entry) {
            double used = 0.0;
            for (std::size_t k = 0; k < calls_.size(); ++k) {
                together[k] += entry->second[k];
                used += entry->second[k];
            }
            if (used > most) {
                most = used;
                most_used = entry;
            }
        }
        if (std::count(together.begin(), together.end(), together.front()) ==
            static_cast<std::ptrdiff_t>(together.size())) {
            result_.in_the_offset.push_back(most_used->first);
            ends.erase(most_used);
        }
    }

    void consider_antenna(const std::string& antenna, const std::vector<double>& counts) {
        constexpr double least_own_share = 0.05;
        RefusedTerm refused;
        refused.antenna = antenna;
        refused.uses = static_cast<std::size_t>(
            std::count_if(counts.begin(), counts.end(), [](double n) { return n > 0.0; }));
        refused.stops = stops_where([&](std::size_t k) { return counts[k] > 0.0; });
        if (refused.uses < least_uses || refused.stops < least_stops_of_a_kind) {
            refused.why = TermRefusal::few_uses;
        } else if (own_share(counts, columns_) < least_own_share) {
            refused.why = TermRefusal::entangled;
        } else {
            columns_.push_back(column("antenna " + antenna, antenna_prior_db, counts, antenna));
            return;
        }
        result_.refused.push_back(refused);
    }

    [[nodiscard]] maths::OrdinalModel model(const std::vector<Column>& columns) const {
        maths::OrdinalModel model;
        for (const Column& column : columns) {
            model.terms.push_back(column.term);
        }
        model.limits = score_limits_db();
        model.free_limits = request_.free_limits;
        model.limit_prior_deviation = limit_prior_db;
        model.shape = request_.shape;
        model.error = {within_stop_typical_db, spread_log_deviation};
        if (result_.stops < calls_.size()) {
            model.group = maths::SpreadPrior{request_.standard_deviation_db, spread_log_deviation};
        } else { // one call at each stop: its two spreads are one
            model.error.typical =
                std::hypot(within_stop_typical_db, request_.standard_deviation_db);
        }
        return model;
    }

    [[nodiscard]] maths::Observation observation(std::size_t k,
                                                 const std::vector<Column>& columns) const {
        const MeasuredCall& call = calls_[k];
        maths::Observation o;
        o.predicted = call.predicted_db;
        for (const Column& column : columns) {
            o.x.push_back(column.x[k]);
        }
        o.group = stops_[k];
        if (call.margin_db) {
            o.reading = call.margin_db;
            if (request_.shape == maths::ErrorShape::normal) {
                o.reading_deviation = request_.reading_deviation_db;
            }
        } else {
            o.score = call.score;
        }
        return o;
    }

    /// All calls but those of one stop.
    [[nodiscard]] std::vector<maths::Observation>
    observations(const std::vector<Column>& columns,
                 std::optional<std::size_t> without = std::nullopt) const {
        std::vector<maths::Observation> list;
        for (std::size_t k = 0; k < calls_.size(); ++k) {
            if (stops_[k] != without) {
                list.push_back(observation(k, columns));
            }
        }
        return list;
    }

    [[nodiscard]] maths::OrdinalFit fit_columns() const {
        maths::OrdinalFit found = maths::fit_ordinal(model(columns_), observations(columns_));
        require_input(found.converged, "no correction fits this log: the scores contradict one "
                                       "another too much; look at them with earshot compare");
        return found;
    }

    /// The share of what is known of a term that comes from the log.
    [[nodiscard]] double share_of_log(const maths::OrdinalFit& found, std::size_t term) const {
        const double ratio = found.terms[term].standard_error / columns_[term].term.prior_deviation;
        return std::max(0.0, 1.0 - ratio * ratio);
    }

    /// Drops, one after another, the terms that the log tells least of. The offset goes last: the
    /// others are nothing without it.
    maths::OrdinalFit fit_telling_terms() {
        while (true) {
            maths::OrdinalFit found = fit_columns();
            const double of_offset = share_of_log(found, 0);
            std::size_t worst = 0;
            double least = 1.0;
            for (std::size_t t = 1; t < columns_.size(); ++t) {
                if (const double share = share_of_log(found, t); share < least) {
                    worst = t;
                    least = share;
                }
            }
            if (std::min(least, of_offset) >= least_share_of_log) {
                return found;
            }
            require_input(worst > 0,
                          "the log tells too little for a correction: of the offset, the log gives "
                          "only {:.0f} % of what would be known of it; {:.0f} % are the least; "
                          "make calls at more stops, and where some are heard and some not",
                          100.0 * of_offset, 100.0 * least_share_of_log);
            RefusedTerm refused;
            refused.antenna = columns_[worst].antenna;
            refused.why =
                least < least_share_of_log ? TermRefusal::little_told : TermRefusal::hides_offset;
            refused.share = least;
            result_.refused.push_back(refused);
            columns_.erase(columns_.begin() + static_cast<std::ptrdiff_t>(worst));
        }
    }

    void take_terms(const maths::OrdinalFit& found) {
        scenario::Correction& correction = result_.correction;
        for (std::size_t t = 0; t < columns_.size(); ++t) {
            const maths::Estimate& estimate = found.terms[t];
            if (t == 0) {
                correction.offset_db = estimate;
            } else if (columns_[t].antenna.empty()) {
                // Woods that help a signal are none: the least factor is 0.
                correction.woodland_factor =
                    maths::Estimate{std::max(0.0, 1.0 + estimate.value), estimate.standard_error};
            } else {
                correction.antennas.push_back({columns_[t].antenna, estimate});
            }
        }
    }

    void take_spreads(const maths::OrdinalFit& found) {
        result_.within_stop_db = found.error;
        result_.among_stops_db = found.group;
        result_.limits = found.limits;
        result_.correction.prediction_deviation_db =
            prediction_deviation_db(maths::total_deviation(model(columns_), found));
    }

    /// What of a deviation in all is not that among places and over time.
    [[nodiscard]] double prediction_deviation_db(double in_all_db) const {
        double variance = in_all_db * in_all_db;
        for (const MeasuredCall& call : calls_) {
            variance -= call.spread_db * call.spread_db / static_cast<double>(calls_.size());
        }
        constexpr double least = least_prediction_deviation_db * least_prediction_deviation_db;
        return std::sqrt(std::max(variance, least));
    }

    /// The score of a call; that of its level if it has one.
    [[nodiscard]] static int score_of(const MeasuredCall& call) {
        return call.margin_db ? static_cast<int>(link::readability(*call.margin_db).readability)
                              : *call.score;
    }

    /// Counts how well scores were foretold.
    struct Tally {
        scenario::OutOfSample sum;
        void add(const std::vector<double>& probabilities, double margin_db, int score) {
            const int foretold = static_cast<int>(link::readability(margin_db).readability);
            // A probability that rounding made 0 would outweigh all else.
            sum.log_loss -=
                std::log(std::max(probabilities[static_cast<std::size_t>(score)], 1e-12));
            sum.hit_percent += foretold == score ? 100.0 : 0.0;
            sum.class_error += std::abs(foretold - score);
        }
        [[nodiscard]] scenario::OutOfSample mean(std::size_t calls) const {
            const auto n = static_cast<double>(calls);
            return {sum.log_loss / n, sum.hit_percent / n, sum.class_error / n, 0.0};
        }
    };

    void leave_stops_out() {
        const maths::OrdinalModel with_terms = model(columns_);
        Tally before;
        Tally after;
        std::vector<double> foretold_db(calls_.size());
        for (std::size_t stop = 0; stop < result_.stops; ++stop) {
            const maths::OrdinalFit others =
                maths::fit_ordinal(with_terms, observations(columns_, stop));
            for (std::size_t k = 0; k < calls_.size(); ++k) {
                if (stops_[k] != stop) {
                    continue;
                }
                const MeasuredCall& call = calls_[k];
                const maths::Observation o = observation(k, columns_);
                foretold_db[k] = o.predicted;
                for (std::size_t t = 0; t < o.x.size(); ++t) {
                    foretold_db[k] += o.x[t] * others.terms[t].value;
                }
                before.add(standard_probabilities(call), call.predicted_db, score_of(call));
                after.add(maths::score_probabilities(with_terms, others, o.predicted, o.x),
                          foretold_db[k], score_of(call));
            }
        }
        scenario::Correction& correction = result_.correction;
        correction.before = before.mean(calls_.size());
        correction.after = after.mean(calls_.size());
        std::vector<double> predicted_db;
        for (const MeasuredCall& call : calls_) {
            predicted_db.push_back(call.predicted_db);
        }
        correction.before.deviation_db = deviation_about(predicted_db);
        correction.after.deviation_db = deviation_about(foretold_db);
        correction.prediction_deviation_db = prediction_deviation_db(correction.after.deviation_db);
    }

    /// Of each score, as the standard and its usual deviations have them.
    [[nodiscard]] std::vector<double> standard_probabilities(const MeasuredCall& call) const {
        maths::OrdinalModel alone;
        maths::OrdinalFit fixed;
        for (const double limit : score_limits_db()) {
            fixed.limits.push_back({limit, 0.0});
        }
        fixed.error.value = std::hypot(call.spread_db, call.prediction_deviation_db);
        return maths::score_probabilities(alone, fixed, call.predicted_db, {});
    }

    /// The spread of what was heard about given predictions, in all.
    [[nodiscard]] double deviation_about(const std::vector<double>& predicted_db) const {
        std::vector<maths::Observation> list = observations({});
        for (std::size_t k = 0; k < list.size(); ++k) {
            list[k].predicted = predicted_db[k];
        }
        maths::OrdinalModel spreads = model({});
        spreads.free_limits = false;
        return maths::total_deviation(spreads, maths::fit_ordinal(spreads, list));
    }

    std::span<const MeasuredCall> calls_;
    const CorrectionRequest& request_;
    std::vector<std::size_t> stops_; ///< of each call
    std::vector<Column> columns_;    ///< the offset first
    CorrectionFit result_;
};

} // namespace

std::vector<MeasuredCall> measured_calls(const scenario::Scenario& scenario,
                                         std::span<const ComparedCall> calls) {
    std::map<std::string, std::string> spellings; // the first there was
    std::vector<MeasuredCall> measured;
    for (const ComparedCall& call : calls) {
        MeasuredCall& made = measured.emplace_back();
        made.stop = call.stop;
        made.predicted_db = call.median_margin_db;
        made.woodland_db = call.woodland_db;
        const link::Station* base = named(scenario.stations, call.base);
        const std::string at_base = base == nullptr ? std::string() : base->radio.antenna;
        for (const std::string& antenna : {at_base, call.antenna}) {
            if (!antenna.empty()) {
                made.antennas.push_back(
                    spellings.emplace(scenario::plain_name(antenna), antenna).first->second);
            }
        }
        made.score = call.score;
        if (call.level_dbm) {
            made.margin_db = *call.level_dbm - call.needed_dbm;
        }
        made.prediction_deviation_db = call.prediction_deviation_db;
        const double variance = call.deviation_db * call.deviation_db -
                                call.prediction_deviation_db * call.prediction_deviation_db;
        made.spread_db = std::sqrt(std::max(variance, 0.0));
    }
    return measured;
}

CorrectionFit fit_correction(std::span<const MeasuredCall> calls,
                             const CorrectionRequest& request) {
    require_input(!calls.empty(), "the log has no call that can be used for a correction");
    return Fitter(calls, request).fit();
}

} // namespace earshot::field
