#include "report/say/numbers.hpp"

#include "geo/units.hpp"
#include "link/quality.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::report {

double shown_margin_db(double margin_db, int decimals, double wanted_db) {
    const double steps_per_db = std::pow(10.0, decimals);
    double steps = std::round(margin_db * steps_per_db);
    if (margin_db >= wanted_db && steps / steps_per_db < wanted_db) {
        steps += 1.0; // the margin wanted need not be a whole number
    }
    const auto stay_below = [&](double limit_db) {
        if (margin_db < limit_db && steps / steps_per_db >= limit_db) {
            steps -= 1.0;
        }
    };
    for (const link::ReadabilityClass& known : link::readability_classes()) {
        stay_below(known.least_margin_db);
    }
    stay_below(wanted_db);
    return steps / steps_per_db + 0.0; // a zero without a sign
}

std::string margin_number(double margin_db, int decimals, double wanted_db) {
    return std::isfinite(margin_db)
               ? fmt::format("{:+.{}f}", shown_margin_db(margin_db, decimals, wanted_db), decimals)
               : "?";
}

std::string margin_text(double margin_db, int decimals, double wanted_db) {
    return margin_number(margin_db, decimals, wanted_db) + (std::isfinite(margin_db) ? " dB" : "");
}

std::string short_text(double margin_db, double wanted_db) {
    return fmt::format("{:.0f} dB", std::max(1.0, std::round(wanted_db - margin_db)));
}

std::string gain_text(double gain_db) {
    return fmt::format("{:+.1f} dB", std::round(10.0 * gain_db) / 10.0 + 0.0);
}

std::string chance_text(double percent) {
    if (!std::isfinite(percent)) {
        return "?";
    }
    return percent < 0.5     ? "under 1 %"
           : percent >= 99.5 ? "over 99 %"
                             : fmt::format("{:.0f} %", std::round(percent));
}

std::string short_chance_text(double percent) {
    return percent < 0.5 ? "<1 %" : percent >= 99.5 ? ">99 %" : chance_text(percent);
}

std::string height_text(double height_m) {
    return height_text(height_m, std::abs(height_m) < 9.95 ? 1 : 0);
}

std::string height_text(double height_m, int decimals) {
    if (geo::units() == geo::Units::metric) {
        return fmt::format("{:.{}f} m", height_m, decimals);
    }
    const double feet = height_m / geo::metres_per_foot;
    return std::abs(feet) < 9.95 && decimals > 0
               ? fmt::format("{:g} ft", std::round(10.0 * feet) / 10.0 + 0.0)
               : fmt::format("{:.0f} ft", std::round(feet) + 0.0);
}

std::string area_text(double area_km2, std::string_view two) {
    return geo::units() == geo::Units::metric
               ? fmt::format("{:.1f} km{}", area_km2, two)
               : fmt::format("{:.1f} mi{}", area_km2 / geo::km2_per_square_mile, two);
}

} // namespace earshot::report
