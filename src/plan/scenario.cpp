#include "earshot/plan/scenario.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/link/handheld.hpp"
#include "earshot/link/quality.hpp"
#include "earshot/propagation/noise.hpp"
#include "scenario_keys.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <toml++/toml.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <iterator>
#include <span>

namespace earshot::plan {
namespace {

/// Text from the file inside a message: on one line, whatever it holds.
std::string shown(std::string_view text) {
    constexpr std::size_t longest = 60;
    std::string line(text.substr(0, longest));
    for (char& c : line) {
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) {
            c = '?';
        }
    }
    return text.size() > longest ? line + "..." : line;
}

std::string where(const std::string& file, const toml::source_region& source) {
    return fmt::format("{}, line {}, column {}: ", file, source.begin.line, source.begin.column);
}

std::string_view kind_words(const toml::node& node) {
    switch (node.type()) {
    case toml::node_type::string:
        return "a text";
    case toml::node_type::integer:
    case toml::node_type::floating_point:
        return "a number";
    case toml::node_type::boolean:
        return "true or false";
    case toml::node_type::array:
        return "a list";
    case toml::node_type::table:
        return "a section";
    default:
        return "a date or time";
    }
}

std::vector<std::string_view> key_names(const Section& section) {
    std::vector<std::string_view> names;
    for (const Key& key : section.keys) {
        names.push_back(key.name);
    }
    return names;
}

/// One section of the file, checked against the list of keys: what it holds is known, complete, of
/// the right type and in range.
class Entry {
public:
    Entry(const std::string& file, const toml::table& table, const Section& section)
        : file_(file), table_(table), section_(section) {
        for (const auto& [key, node] : table_) {
            check_known(key, node);
        }
        for (const Key& key : section_.keys) {
            check_alternatives(key);
        }
        for (const auto& [key, node] : table_) {
            if (const Key* known = section_.find(key.str())) {
                check_value(*known, node);
            }
        }
    }

    [[nodiscard]] bool has(std::string_view key) const { return find(key) != nullptr; }

    [[nodiscard]] std::optional<double> number(std::string_view key) const {
        const toml::node* node = find(key);
        return node == nullptr ? std::nullopt : node->value<double>();
    }
    [[nodiscard]] double number(std::string_view key, double otherwise) const {
        return number(key).value_or(otherwise);
    }
    [[nodiscard]] std::optional<std::string> text(std::string_view key) const {
        const toml::node* node = find(key);
        return node == nullptr ? std::nullopt : node->value<std::string>();
    }
    [[nodiscard]] std::string text(std::string_view key, std::string_view otherwise) const {
        return text(key).value_or(std::string(otherwise));
    }
    /// The paths of a key, those that are relative starting from the folder of the scenario.
    [[nodiscard]] std::vector<std::filesystem::path> paths(std::string_view key) const {
        std::vector<std::filesystem::path> paths;
        const auto add = [&](const toml::node& node) {
            paths.push_back(std::filesystem::path(file_).parent_path() /
                            *node.value<std::string>());
        };
        if (const toml::node* node = find(key)) {
            if (const toml::array* list = node->as_array()) {
                std::ranges::for_each(*list, add);
            } else {
                add(*node);
            }
        }
        return paths;
    }

    [[noreturn]] void fail(const std::string& what) const {
        throw_input(where(file_, table_.source()) + what);
    }
    [[noreturn]] void fail_at(std::string_view key, const std::string& what) const {
        const toml::node* node = find(key);
        throw_input(where(file_, node == nullptr ? table_.source() : node->source()) + what);
    }
    /// Calls something that refuses values with a message of its own, and adds the place to it.
    template <typename Call>
    auto located(std::string_view key, Call&& call) const {
        try {
            return call();
        } catch (const Error& error) {
            fail_at(key, error.what());
        }
    }

private:
    [[nodiscard]] const toml::node* find(std::string_view key) const { return table_.get(key); }

    void check_known(const toml::key& key, const toml::node& node) const {
        if (section_.find(key.str()) != nullptr) {
            return;
        }
        const auto is_section = [&](const Section& other) {
            return !other.name.empty() && other.name == key.str();
        };
        if (section_.name.empty() && std::ranges::any_of(scenario_sections(), is_section)) {
            return;
        }
        const std::string start =
            fmt::format("{}{}'{}' is not known in {}", where(file_, key.source()),
                        section_.name.empty() && node.is_table() ? "section " : "key ",
                        shown(key.str()), section_.label());
        throw_input(start + advice(key.str()));
    }

    /// What may have been meant by an unknown key.
    [[nodiscard]] std::string advice(std::string_view written) const {
        std::vector<std::string_view> names = key_names(section_);
        if (section_.name.empty()) {
            for (const Section& other : scenario_sections().subspan(1)) {
                names.push_back(other.name);
            }
        }
        std::vector<std::string_view> with_unit;
        std::ranges::copy_if(names, std::back_inserter(with_unit), [&](std::string_view name) {
            return name.starts_with(std::string(written) + "_");
        });
        if (!with_unit.empty()) {
            return fmt::format("; write {}", fmt::join(with_unit, " or "));
        }
        for (const Section& other : scenario_sections()) {
            if (other.find(written) != nullptr && nearest_name(written, names).empty()) {
                return other.name.empty()
                           ? "; it belongs at the top of the file, before the first section"
                           : fmt::format("; it belongs in {}", other.label());
            }
        }
        const std::string guess = did_you_mean(written, names);
        return guess.empty() ? fmt::format("; known are {}", fmt::join(names, ", ")) : guess;
    }

    void check_alternatives(const Key& key) const {
        if (key.quantity.empty()) {
            if (key.required && !has(key.name)) {
                fail(fmt::format("{} has no {} ({})", label(), key.name, key.meaning));
            }
            return;
        }
        std::vector<std::string_view> all;
        std::vector<std::string_view> given;
        for (const Key& other : section_.keys) {
            if (other.quantity == key.quantity) {
                all.push_back(other.name);
                if (has(other.name)) {
                    given.push_back(other.name);
                }
            }
        }
        if (given.size() > 1) {
            fail_at(given.back(), fmt::format("{} gives the {} twice, as {}; keep one", label(),
                                              key.quantity, fmt::join(given, " and as ")));
        }
        if (key.required && given.empty()) {
            fail(fmt::format("{} has no {}; give {}", label(), key.quantity,
                             fmt::join(all, " or ")));
        }
    }

    void check_value(const Key& key, const toml::node& node) const {
        const auto wants = [&](std::string_view what) {
            fail_at(key.name,
                    fmt::format("{} is {} but must be {}", key.name, kind_words(node), what));
        };
        switch (key.kind) {
        case KeyKind::number: {
            if (!node.is_number()) {
                wants("a number without quotes, its unit is in the key");
            }
            const double value = *node.value<double>();
            if (!(value >= key.low && value <= key.high)) {
                fail_at(key.name, fmt::format("{} = {} is out of range; give {} to {}", key.name,
                                              value, key.low, key.high));
            }
            break;
        }
        case KeyKind::texts:
            if (const toml::array* list = node.as_array()) {
                if (list->empty()) {
                    fail_at(key.name, fmt::format("{} names nothing", key.name));
                }
                for (const toml::node& item : *list) {
                    check_text(key, item);
                }
                break;
            }
            check_text(key, node);
            break;
        case KeyKind::choice:
        case KeyKind::text:
            check_text(key, node);
            break;
        }
        if (key.kind == KeyKind::choice &&
            std::ranges::find(key.choices, *node.value<std::string>()) == key.choices.end()) {
            fail_at(key.name,
                    fmt::format("{} = '{}' is not known; give {}", key.name,
                                shown(*node.value<std::string>()), fmt::join(key.choices, ", ")));
        }
    }

    void check_text(const Key& key, const toml::node& node) const {
        const auto value = node.value<std::string>();
        if (!node.is_string()) {
            fail_at(key.name, fmt::format("{} is {} but must be a text in quotes", key.name,
                                          kind_words(node)));
        }
        if (value->find_first_not_of(" \t\r\n") == std::string::npos) {
            fail_at(key.name, fmt::format("{} is empty", key.name));
        }
    }

    /// The section, by the name in it where it has one.
    [[nodiscard]] std::string label() const {
        const toml::node* name = find("name");
        if (section_.list && name != nullptr && name->is_string()) {
            return fmt::format("'{}' in {}", shown(*name->value<std::string>()), section_.label());
        }
        return section_.label();
    }

    const std::string& file_;
    const toml::table& table_;
    const Section& section_;
};

/// A kind of radio or antenna that stations name.
struct RadioKind {
    std::string name;
    link::Radio radio;
    std::optional<double> frequency_mhz;
    propagation::FmChannel channel = propagation::FmChannel::narrow;
};

struct AntennaKind {
    std::string name;
    double gain_dbi = 0.0;
    propagation::Polarization polarization = propagation::Polarization::vertical;
};

/// A radio somewhere, and the polarization that no link::Radio has room for.
struct Equipped {
    link::Station station;
    propagation::Polarization polarization;
};

template <typename Kinds>
std::vector<std::string_view> names_of(const Kinds& kinds) {
    std::vector<std::string_view> names;
    names.reserve(kinds.size());
    for (const auto& kind : kinds) {
        names.emplace_back(kind.name);
    }
    return names;
}

class Reader {
public:
    explicit Reader(const std::filesystem::path& file) : file_(file.string()) {
        scenario_.file = file;
        scenario_.inputs.push_back(file);
    }

    Scenario read() && {
        root_ = parse();
        const Entry top(file_, root_, scenario_section(""));
        for (const Section& section : scenario_sections().subspan(1)) {
            check_shape(section);
        }
        read_net();
        read_service();
        read_method();
        for (const Entry& entry : entries("radios")) {
            read_radio(entry);
        }
        for (const Entry& entry : entries("antennas")) {
            read_antenna(entry);
        }
        for (const Entry& entry : entries("stations")) {
            read_station(entry);
        }
        read_climate();
        read_listener();
        for (const Entry& entry : entries("places")) {
            read_place(entry);
        }
        read_ground();
        read_places_file(top);
        return std::move(scenario_);
    }

private:
    toml::table parse() const {
        std::error_code ignored;
        if (std::filesystem::is_directory(file_, ignored)) {
            throw_input(fmt::format("{} is a folder; give a scenario file", file_));
        }
        std::ifstream in(file_, std::ios::binary);
        if (!in) {
            throw_input(fmt::format("{}: the scenario cannot be opened; check the name", file_));
        }
        const std::string content{std::istreambuf_iterator<char>(in), {}};
        try {
            return toml::parse(content);
        } catch (const toml::parse_error& error) {
            throw_input(where(file_, error.source()) + shown_reason(error.description()));
        }
    }

    static std::string shown_reason(std::string_view reason) {
        std::string line = "not valid TOML: ";
        for (const char c : reason) {
            line += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
        }
        return line;
    }

    /// A section must be written as what it is: once, or as a list.
    void check_shape(const Section& section) const {
        const toml::node* node = root_.get(section.name);
        if (node == nullptr) {
            if (section.required) {
                throw_input(fmt::format("{}: there is no {}; a scenario needs one", file_,
                                        section.label()));
            }
            return;
        }
        const auto wrong = [&](const toml::node& at) {
            throw_input(fmt::format("{}{} is not written as a section; put {} on a line of its own "
                                    "and its keys below",
                                    where(file_, at.source()), section.name, section.label()));
        };
        if (!section.list) {
            if (!node->is_table()) {
                wrong(*node);
            }
            return;
        }
        const toml::array* list = node->as_array();
        if (list == nullptr) {
            wrong(*node);
        }
        if (list->empty() && section.required) {
            throw_input(fmt::format("{}{} is empty; a scenario needs one",
                                    where(file_, node->source()), section.label()));
        }
        for (const toml::node& item : *list) {
            if (!item.is_table()) {
                wrong(item);
            }
        }
    }

    /// The sections of that name, none if there are none.
    [[nodiscard]] std::vector<Entry> entries(std::string_view name) const {
        const Section& section = scenario_section(name);
        std::vector<Entry> list;
        const toml::node* node = root_.get(name);
        if (node == nullptr) {
            return list;
        }
        if (!section.list) {
            list.emplace_back(file_, *node->as_table(), section);
            return list;
        }
        for (const toml::node& item : *node->as_array()) {
            list.emplace_back(file_, *item.as_table(), section);
        }
        return list;
    }

    void read_net() {
        const Entry net = entries("net").front();
        scenario_.net_name = net.text("name", "");
        scenario_.settings.frequency_mhz = *net.number("frequency_mhz");
        if (const auto noise = net.text("noise")) {
            noise_db_ = propagation::external_noise_figure_db(
                propagation::parse_noise_environment(*noise), scenario_.settings.frequency_mhz);
        }
    }

    void read_service() {
        for (const Entry& service : entries("service")) {
            scenario_.wanted_margin_db = service.number("margin_db", 0.0);
            if (const auto wanted = service.number("readability")) {
                if (*wanted != std::floor(*wanted)) {
                    service.fail_at(
                        "readability",
                        fmt::format("readability = {} must be a whole number", *wanted));
                }
                scenario_.wanted_margin_db =
                    link::readability_classes()[static_cast<std::size_t>(*wanted)].least_margin_db;
            }
            double& deviation_db = scenario_.settings.prediction_deviation_db;
            deviation_db = service.number("prediction_deviation_db", deviation_db);
            propagation::P1812Inputs& inputs = scenario_.settings.p1812;
            inputs.time_percent = service.number("time_percent", inputs.time_percent);
            inputs.location_percent = service.number("places_percent", inputs.location_percent);
        }
    }

    void read_method() {
        for (const Entry& method : entries("method")) {
            propagation::PathSettings& settings = scenario_.settings;
            if (const auto name = method.text("name")) {
                settings.method = propagation::parse_method(*name);
            }
            if (method.text("knife_edge", "itu") == "exact") {
                settings.knife_edge = propagation::KnifeEdgeForm::exact;
            }
            const bool standard = settings.method == propagation::Method::p1812;
            const auto refuse = [&](std::string_view key, std::string_view advice) {
                if (method.has(key)) {
                    method.fail_at(key, fmt::format("{} does nothing with method {}; {}", key,
                                                    propagation::method_info(settings.method).name,
                                                    advice));
                }
            };
            if (standard) {
                refuse("k_factor", "give delta_n instead");
            } else {
                refuse("delta_n", "give k_factor instead");
                refuse("n0", "leave it out");
                refuse("refractivity_maps", "leave it out");
            }
            if (method.has("refractivity_maps") && (method.has("delta_n") || method.has("n0"))) {
                method.fail_at("refractivity_maps", "refractivity_maps gives both values; leave "
                                                    "out delta_n and n0");
            }
            if (const auto fit = method.text("woodland_fit")) {
                settings.woodland_fit = std::ranges::find(propagation::woodland_fits(), *fit,
                                                          &propagation::WoodlandFitInfo::name)
                                            ->fit;
            }
            settings.k_factor = method.number("k_factor", settings.k_factor);
            terrain::Refractivity& refractivity = settings.p1812.refractivity;
            refractivity.delta_n = method.number("delta_n", refractivity.delta_n);
            refractivity.n0 = method.number("n0", refractivity.n0);
            scenario_.step_m = method.number("step_m");
        }
        if (scenario_.settings.method != propagation::Method::p1812) {
            for (const Entry& service : entries("service")) {
                for (const std::string_view key : {"time_percent", "places_percent"}) {
                    if (service.number(key, 50.0) != 50.0) {
                        service.fail_at(
                            key,
                            fmt::format("method {} predicts half of time and places only; "
                                        "leave {} out, or take method p1812",
                                        propagation::method_info(scenario_.settings.method).name,
                                        key));
                    }
                }
            }
        }
    }

    /// Refuses a name that another section of the same list has.
    template <typename Kinds>
    static void require_new(const Entry& entry, const Kinds& kinds, const std::string& name,
                            std::string_view what) {
        if (std::ranges::find(kinds, name, [](const auto& kind) { return kind.name; }) !=
            std::ranges::end(kinds)) {
            entry.fail_at("name", fmt::format("{} '{}' is there already; give each a name of its "
                                              "own",
                                              what, shown(name)));
        }
    }

    void read_radio(const Entry& entry) {
        RadioKind kind;
        kind.name = entry.text("name", "");
        require_new(entry, radios_, kind.name, "a radio");
        kind.frequency_mhz = entry.number("frequency_mhz");
        const auto power_w = entry.number("power_w");
        kind.radio.power_dbm = power_w ? geo::dbm_from_watts(*power_w) : *entry.number("power_dbm");
        const auto sensitivity_uv = entry.number("sensitivity_uv");
        kind.radio.threshold_dbm = sensitivity_uv ? geo::dbm_from_microvolts(*sensitivity_uv)
                                                  : *entry.number("threshold_dbm");
        kind.radio.feeder_loss_db = entry.number("feeder_loss_db", 0.0);
        const double bandwidth_khz = entry.number("bandwidth_khz", 12.5);
        if (bandwidth_khz != 12.5 && bandwidth_khz != 25.0) {
            entry.fail_at("bandwidth_khz",
                          fmt::format("bandwidth_khz = {}: FM voice channels are 12.5 (narrow) or "
                                      "25 (wide)",
                                      bandwidth_khz));
        }
        kind.channel =
            bandwidth_khz > 12.5 ? propagation::FmChannel::wide : propagation::FmChannel::narrow;
        radios_.push_back(std::move(kind));
    }

    void read_antenna(const Entry& entry) {
        AntennaKind kind;
        kind.name = entry.text("name", "");
        require_new(entry, antennas_, kind.name, "an antenna");
        const auto gain_dbd = entry.number("gain_dbd");
        kind.gain_dbi = gain_dbd ? *gain_dbd + geo::dipole_gain_dbi : *entry.number("gain_dbi");
        if (entry.text("polarization", "vertical") == "horizontal") {
            kind.polarization = propagation::Polarization::horizontal;
        }
        antennas_.push_back(std::move(kind));
    }

    [[nodiscard]] const RadioKind& radio_of(const Entry& entry) const {
        const std::string name = entry.text("radio", "");
        const auto found = std::ranges::find(radios_, name, &RadioKind::name);
        if (found == radios_.end()) {
            entry.fail_at("radio", fmt::format("no [[radios]] is named '{}'{}", shown(name),
                                               did_you_mean(name, names_of(radios_))));
        }
        if (found->frequency_mhz && *found->frequency_mhz != scenario_.settings.frequency_mhz) {
            entry.fail_at("radio",
                          fmt::format("radio '{}' is on {} MHz but the net on {} MHz; set both "
                                      "alike",
                                      shown(name), *found->frequency_mhz,
                                      scenario_.settings.frequency_mhz));
        }
        return *found;
    }

    /// One of the file's own antennas, else one of the usual ones.
    [[nodiscard]] AntennaKind antenna_of(const Entry& entry) const {
        const std::string name = entry.text("antenna", "");
        const auto own = std::ranges::find(antennas_, name, &AntennaKind::name);
        if (own != antennas_.end()) {
            return *own;
        }
        if (std::ranges::find(link::antennas(), name, &link::Antenna::name) ==
            link::antennas().end()) {
            std::vector<std::string_view> known = names_of(antennas_);
            const std::vector<std::string_view> usual = names_of(link::antennas());
            known.insert(known.end(), usual.begin(), usual.end());
            const std::string guess = did_you_mean(name, known);
            entry.fail_at("antenna", fmt::format("no antenna is named '{}'{}", shown(name),
                                                 guess.empty() ? fmt::format("; known are {}",
                                                                             fmt::join(known, ", "))
                                                               : guess));
        }
        const double gain_dbi = entry.located("antenna", [&] {
            return link::antenna_gain_dbi(name, scenario_.settings.frequency_mhz);
        });
        return {name, gain_dbi, propagation::Polarization::vertical};
    }

    [[nodiscard]] Equipped equipped(const Entry& entry) const {
        const RadioKind& kind = radio_of(entry);
        const AntennaKind antenna = antenna_of(entry);
        Equipped result{{}, antenna.polarization};
        const auto height_ft = entry.number("antenna_height_ft");
        result.station.antenna_height_m =
            height_ft ? *height_ft * geo::metres_per_foot : *entry.number("antenna_height_m");
        link::Radio& radio = result.station.radio;
        radio = kind.radio;
        radio.antenna_gain_dbi = antenna.gain_dbi;
        radio.body_loss_db = entry.number("body_loss_db", 0.0);
        if (const auto carried = entry.text("carried")) {
            radio.body_loss_db =
                link::body_loss_db(link::parse_carried(*carried), scenario_.settings.frequency_mhz);
        }
        if (noise_db_) {
            const double lost_db = link::antenna_loss_db(radio.antenna_gain_dbi) +
                                   radio.body_loss_db + radio.feeder_loss_db;
            radio.needed = entry.located("radio", [&] {
                return propagation::needed_level(radio.threshold_dbm, kind.channel,
                                                 propagation::VoiceQuality::twelve_db_sinad,
                                                 *noise_db_, lost_db);
            });
            radio.threshold_dbm = radio.needed->needed_dbm;
        }
        return result;
    }

    [[nodiscard]] static geo::LatLon position_of(const Entry& entry) {
        return entry.located("position",
                             [&] { return geo::parse_position(entry.text("position", "")); });
    }

    void require_polarization(const Entry& entry, propagation::Polarization polarization,
                              std::string_view whose) const {
        if (polarization != scenario_.settings.p1812.polarization) {
            entry.fail_at("antenna",
                          fmt::format("the antenna of {} and that of {} differ in polarization; "
                                      "what that costs is not predicted, so turn one of them",
                                      shown(whose), shown(scenario_.stations.front().name)));
        }
    }

    void read_station(const Entry& entry) {
        Equipped result = equipped(entry);
        result.station.name = entry.text("name", "");
        require_new(entry, scenario_.stations, result.station.name, "a station");
        result.station.position = position_of(entry);
        if (scenario_.stations.empty()) {
            scenario_.settings.p1812.polarization = result.polarization;
        }
        scenario_.stations.push_back(std::move(result.station));
        require_polarization(entry, result.polarization, scenario_.stations.back().name);
    }

    void read_climate() {
        for (const Entry& method : entries("method")) {
            for (const std::filesystem::path& folder : method.paths("refractivity_maps")) {
                scenario_.settings.p1812.refractivity = method.located("refractivity_maps", [&] {
                    return terrain::RefractivityMaps::open(folder).at(
                        scenario_.stations.front().position);
                });
            }
        }
    }

    void read_listener() {
        scenario_.listener.antenna_height_m = default_listener_height_m;
        for (const Entry& entry : entries("listener")) {
            Equipped result = equipped(entry);
            require_polarization(entry, result.polarization, "the listener");
            scenario_.listener = std::move(result.station);
        }
    }

    void read_place(const Entry& entry) {
        Place place{entry.text("name", ""), position_of(entry), entry.number("people", 1.0)};
        require_new(entry, scenario_.stations, place.name, "a station");
        require_new(entry, scenario_.places, place.name, "a place");
        scenario_.places.push_back(std::move(place));
    }

    void read_ground() {
        const Entry ground = entries("ground").front();
        GroundInputs& inputs = scenario_.ground;
        inputs.elevation = ground.paths("elevation");
        inputs.cover = ground.paths("cover");
        const std::string unit = ground.text("height_unit", "");
        if (unit == "m") {
            inputs.height_unit_m = 1.0;
        } else if (unit == "ft") {
            inputs.height_unit_m = geo::metres_per_foot;
        } else if (unit == "us-ft") {
            inputs.height_unit_m = 1200.0 / 3937.0;
        }
        if (const auto table = ground.text("cover_table")) {
            if (inputs.cover.empty()) {
                ground.fail_at("cover_table", "cover_table needs the rasters that cover names");
            }
            const bool named = *table == "worldcover" || *table == "nlcd";
            inputs.cover_table = named ? *table : ground.paths("cover_table").front().string();
            if (!named) {
                scenario_.inputs.emplace_back(inputs.cover_table);
            }
        }
        if (const auto name = ground.text("cover_class")) {
            inputs.uniform_cover = uniform_cover(*name, ground.number("cover_height_m"));
        } else if (ground.has("cover_height_m")) {
            ground.fail_at("cover_height_m", "cover_height_m needs a cover_class to be the height "
                                             "of");
        }
        inputs.zones = ground.paths("zones");
        for (const auto& files : {inputs.elevation, inputs.cover, inputs.zones}) {
            scenario_.inputs.insert(scenario_.inputs.end(), files.begin(), files.end());
        }
    }

    static terrain::CoverClass uniform_cover(const std::string& name,
                                             std::optional<double> height_m) {
        using terrain::Clutter;
        struct Kind {
            std::string_view name;
            Clutter clutter;
        };
        constexpr std::array kinds{Kind{"water", Clutter::water},
                                   Kind{"open", Clutter::open},
                                   Kind{"suburban", Clutter::suburban},
                                   Kind{"urban", Clutter::urban_or_trees},
                                   Kind{"woodland", Clutter::urban_or_trees},
                                   Kind{"dense-urban", Clutter::dense_urban}};
        const Clutter clutter = std::ranges::find(kinds, name, &Kind::name)->clutter;
        return {0, name, clutter, height_m.value_or(terrain::default_height_m(clutter)),
                name == "woodland"};
    }

    void read_places_file(const Entry& top) {
        for (const std::filesystem::path& file : top.paths("places_file")) {
            scenario_.inputs.push_back(file);
            PlacesFile read = read_places(file);
            std::vector<std::string> stand_there;
            for (Place& place : read.places) {
                // People list the places where their stations stand; the station it is then.
                if (std::ranges::find(scenario_.stations, place.name, &link::Station::name) !=
                    scenario_.stations.end()) {
                    stand_there.push_back(place.name);
                    continue;
                }
                require_unused_place(file, place.name);
                scenario_.places.push_back(std::move(place));
            }
            if (!stand_there.empty()) {
                scenario_.notes.push_back(
                    fmt::format("places of {} that have the name of a station were left out: {}",
                                file.string(), fmt::join(stand_there, ", ")));
            }
            if (read.passed_over > 0) {
                scenario_.notes.push_back(
                    fmt::format("{} shapes of {} are no points and were passed over",
                                read.passed_over, file.string()));
            }
        }
    }

    void require_unused_place(const std::filesystem::path& file, const std::string& name) const {
        if (std::ranges::find(scenario_.places, name, &Place::name) != scenario_.places.end()) {
            throw_input(
                fmt::format("{}: a place '{}' is there already; give each a name of its own",
                            file.string(), shown(name)));
        }
    }

    std::string file_;
    toml::table root_;
    Scenario scenario_;
    std::optional<double> noise_db_; ///< f_a of the surroundings
    std::vector<RadioKind> radios_;
    std::vector<AntennaKind> antennas_;
};

} // namespace

Scenario read_scenario(const std::filesystem::path& file) {
    return Reader(file).read();
}

link::Station station_named(const Scenario& scenario, std::string_view name) {
    const auto station = std::ranges::find(scenario.stations, name, &link::Station::name);
    if (station != scenario.stations.end()) {
        return *station;
    }
    const auto place = std::ranges::find(scenario.places, name, &Place::name);
    if (place != scenario.places.end()) {
        link::Station listener = scenario.listener;
        listener.name = place->name;
        listener.position = place->position;
        return listener;
    }
    std::vector<std::string_view> known = names_of(scenario.stations);
    const std::vector<std::string_view> places = names_of(scenario.places);
    known.insert(known.end(), places.begin(), places.end());
    const std::string guess = did_you_mean(name, known);
    throw_usage(
        fmt::format("{} has no station or place named '{}'{}", scenario.file.string(), shown(name),
                    guess.empty() ? fmt::format("; it has {}", fmt::join(known, ", ")) : guess));
}

terrain::TerrainSource open_elevation(const GroundInputs& inputs) {
    terrain::OpenOptions options;
    options.height_unit_m = inputs.height_unit_m;
    return terrain::TerrainSource::open(inputs.elevation, options);
}

Layers load_layers(const GroundInputs& inputs, const terrain::HeightGrid& ground,
                   Progress* progress) {
    const auto load = [&](const std::vector<std::filesystem::path>& files,
                          const terrain::CoverTable& table) {
        return terrain::GroundCover::load(files, table, ground.georeference, ground.columns,
                                          ground.rows, progress);
    };
    Layers layers;
    if (inputs.uniform_cover) {
        layers.cover = terrain::GroundCover::uniform(*inputs.uniform_cover);
    } else if (!inputs.cover.empty()) {
        layers.cover = load(inputs.cover, terrain::CoverTable::named(inputs.cover_table));
    }
    if (!inputs.zones.empty()) {
        layers.zones = load(inputs.zones, terrain::zone_table());
    }
    return layers;
}

} // namespace earshot::plan
