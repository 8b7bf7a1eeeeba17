/// Times the relay search: `bench_relay places [candidates] [places]` on the sample of real ground,
/// `bench_relay area [candidates] [side] [cells-per-side] [shortlist]` on invented rough ground of
/// side x side cells, all candidates on all cells, or with a shortlist in two stages;
/// `bench_relay choice [sites] [items] [chosen]` the greedy choice alone, over random bits.

#include "base/parallel.hpp"
#include "coverage/ground.hpp"
#include "plan/relay_search.hpp"
#include "report/say/plan_words.hpp"
#include "setting.hpp"

#include <fmt/format.h>
#include <sys/resource.h>

#include <chrono>
#include <cstdlib>
#include <random>
#include <string>

using namespace earshot;
using namespace earshot::plan;

namespace {

double processor_seconds() {
    rusage usage = {};
    getrusage(RUSAGE_SELF, &usage);
    const auto seconds = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return seconds(usage.ru_utime) + seconds(usage.ru_stime);
}

/// Prints when each stage of the work began and what it took.
class Stages : public Task {
public:
    void begin(std::string_view stage, std::uint64_t total) override {
        end();
        stage_ = fmt::format("{} ({} steps)", stage, total);
        started_ = std::chrono::steady_clock::now();
        processor_ = processor_seconds();
    }
    void end() override {
        if (stage_.empty()) {
            return;
        }
        const std::chrono::duration<double> took = std::chrono::steady_clock::now() - started_;
        fmt::print("{:<40} {:8.2f} s, {:8.2f} s of processor\n", stage_, took.count(),
                   processor_seconds() - processor_);
        stage_.clear();
    }

private:
    std::string stage_;
    std::chrono::steady_clock::time_point started_;
    double processor_ = 0.0;
};

std::size_t count(int argc, char** argv, int index, std::size_t fallback) {
    return argc > index ? static_cast<std::size_t>(std::strtoul(argv[index], nullptr, 10))
                        : fallback;
}

RelayQuestion question(double wanted_db, std::size_t sites) {
    RelayQuestion question;
    question.relay.antenna_height_m = 6.0;
    question.wanted_margin_db = wanted_db;
    question.sites = sites;
    return question;
}

CandidateOptions options_for(std::size_t most) {
    CandidateOptions options;
    options.most = most;
    return options;
}

void tell(const RelayAnswer& answer, const std::vector<ServedPlace>& places) {
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        const RelaySite& site = answer.sites[k];
        fmt::print("  {:.5f}, {:.5f} at {:.0f} m adds {:.1f}: {}\n",
                   site.candidate.position.lat_deg, site.candidate.position.lon_deg,
                   site.candidate.ground_m, site.added, report::site_words(answer, k, places));
    }
    fmt::print("  {:.1f} of {:.1f}; {}\n", answer.served, answer.total,
               report::relay_words(answer));
}

void places(std::size_t candidates, std::size_t places) {
    const terrain::HeightGrid ground = test::cumberland();
    std::mt19937 random(1);
    std::uniform_real_distribution<double> share(0.02, 0.98);
    std::vector<ServedPlace> served(places);
    for (std::size_t k = 0; k < places; ++k) {
        served[k].station.name = fmt::format("place {}", k + 1);
        served[k].station.antenna_height_m = 1.5;
        served[k].station.position = ground.georeference.position_of(
            {share(random) * ground.columns, share(random) * ground.rows});
    }
    Stages stages;
    const CandidateSet set = find_candidates(ground, {}, options_for(candidates), &stages);
    for (const std::size_t sites : {1U, 3U}) {
        const RelayAnswer answer =
            search_relays(set.candidates, served, test::on(ground, question(35.0, sites)), &stages);
        stages.end();
        tell(answer, served);
    }
}

void area(std::size_t candidates, int side, int cells_per_side, std::size_t listed) {
    const terrain::HeightGrid ground = test::rough_ground(side, side, 150.0);
    terrain::Shapes all;
    all.label = "the whole ground";
    const auto corner = [&](double column, double row) {
        return ground.georeference.position_of({column, row});
    };
    const double end = side - 0.6;
    all.polygons = {{{corner(-0.4, -0.4), corner(end, -0.4), corner(end, end), corner(-0.4, end)}}};
    link::Station person;
    person.antenna_height_m = 1.5;
    Stages stages;
    const CandidateSet set = find_candidates(ground, {}, options_for(candidates), &stages);
    stages.end();
    const ServiceArea service = service_area(ground, all, cells_per_side, nullptr, person);
    fmt::print("{} candidates, {} x {} cells to serve\n", set.candidates.size(),
               service.map.columns, service.map.rows);
    const RelayQuestion asked = question(35.0, 5, 30.0);
    const RelayAnswer answer =
        listed == 0
            ? search_relays(set.candidates, service, test::on(ground, asked), &stages)
            : search_relays_in_stages(
                  set.candidates, service_area(ground, all, 4 * cells_per_side, nullptr, person),
                  service, test::on(ground, asked), listed, &stages);
    stages.end();
    tell(answer, {});
}

void choice(std::size_t sites, std::size_t items, std::size_t chosen) {
    std::mt19937_64 random(1);
    BitRows serves(sites, items);
    // Each site covers a stretch of the items with gaps, so that gains shrink as sites are added.
    for (std::size_t s = 0; s < sites; ++s) {
        const std::size_t from = random() % items;
        const std::size_t length = items / 20 + random() % (items / 5);
        for (std::size_t k = 0; k < length; k += 1 + s % 3) {
            serves.set(s, (from + k) % items);
        }
    }
    CoverProblem problem;
    problem.serves = &serves;
    problem.weight.assign(items, 1.0);
    problem.sites = chosen;
    Stages stages;
    const CoverAnswer answer = choose_sites(problem, {}, &stages);
    stages.end();
    fmt::print("  {:.0f} of {:.0f}; {}\n", answer.covered, answer.coverable,
               report::choice_words(answer));
}

} // namespace

int main(int argc, char** argv) {
    const std::string what = argc > 1 ? argv[1] : "places";
    if (what == "area") {
        area(count(argc, argv, 2, 10000), static_cast<int>(count(argc, argv, 3, 1000)),
             static_cast<int>(count(argc, argv, 4, 4)), count(argc, argv, 5, 0));
    } else if (what == "choice") {
        choice(count(argc, argv, 2, 10000), count(argc, argv, 3, 1000000),
               count(argc, argv, 4, 10));
    } else {
        places(count(argc, argv, 2, 2000), count(argc, argv, 3, 200));
    }
    rusage usage = {};
    getrusage(RUSAGE_SELF, &usage);
    fmt::print("largest memory {:.0f} MB\n", static_cast<double>(usage.ru_maxrss) / 1024.0);
}
