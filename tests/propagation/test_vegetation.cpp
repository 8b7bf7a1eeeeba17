#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"
#include "propagation/vegetation.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

using namespace earshot;
using namespace earshot::propagation;

namespace {

// Table 1 of ITU-R P.833-9: woodland near St. Petersburg, as quoted in public source code that
// implements it.
struct Measured {
    double frequency_mhz, per_metre_db, greatest_db;
};
constexpr Measured table_1[] = {{105.9, 0.04, 9.4},
                                {466.475, 0.12, 18.0},
                                {949.0, 0.17, 26.5},
                                {1852.2, 0.30, 29.0},
                                {2117.5, 0.34, 34.1}};

// Points 100 m apart on level ground at sea level, trees of 15 m where `woods` has a W.
struct Path {
    terrain::Profile profile;
    std::vector<std::uint8_t> woodland;

    explicit Path(const char* woods) {
        for (const char* c = woods; *c != '\0'; ++c) {
            profile.distance_km.push_back(0.1 * static_cast<double>(profile.distance_km.size()));
            profile.ground_m.push_back(0.0);
            profile.cover_m.push_back(*c == 'W' ? 15.0 : 0.0);
            woodland.push_back(*c == 'W' ? 1 : 0);
        }
    }
    // An earth so large that it is flat.
    [[nodiscard]] WoodlandSplit split(double transmitter_m, double receiver_m,
                                      double radius_km = 1e12) const {
        return split_woodland(profile, woodland, transmitter_m, receiver_m, radius_km,
                              WoodlandLoss(Conditions()));
    }
};

} // namespace

TEST_CASE("woodland: greatest loss against the measurements of ITU-R P.833") {
    // The fit and the table are published separately; they agree within 12 percent.
    for (const Measured& m : table_1) {
        CHECK(greatest_woodland_loss_db(m.frequency_mhz) == Approx(m.greatest_db).epsilon(0.12));
    }
    // P.833-10 equation (2), by hand: log10(1000) = 3 makes the powers 10^(3 alpha).
    CHECK(greatest_woodland_loss_db(1000.0, WoodlandFit::rio_de_janeiro) ==
          Approx(0.18 * 180.3).epsilon(1e-3));
    CHECK(greatest_woodland_loss_db(1000.0, WoodlandFit::mulhouse) ==
          Approx(1.15 * 19.498).epsilon(1e-3));
    CHECK(greatest_woodland_loss_db(1000.0, WoodlandFit::st_petersburg) ==
          Approx(1.37 * 18.197).epsilon(1e-3));
    CHECK(woodland_fits().front().fit == WoodlandFit::st_petersburg);
    CHECK(woodland_fit_info(WoodlandFit::mulhouse).name == "mulhouse");
}

TEST_CASE("woodland: loss per metre against the measurements of ITU-R P.833") {
    for (const Measured& m : table_1) {
        CHECK(woodland_loss_per_metre_db(m.frequency_mhz, Polarization::vertical) ==
              Approx(m.per_metre_db).epsilon(0.26));
    }
    // Saxton and Lane 1955 and LaGrone 1960, as remembered: dense woods take 20 to 30 dB per km of
    // vertical and 2 to 3 dB per km of horizontal polarization at 30 MHz, at 100 MHz 50 to 80 dB
    // and 20 to 30 dB.
    CHECK(woodland_loss_per_metre_db(30.0, Polarization::vertical) == Approx(0.025).margin(0.0051));
    CHECK(woodland_loss_per_metre_db(30.0, Polarization::horizontal) ==
          Approx(0.0025).margin(0.00051));
    CHECK(woodland_loss_per_metre_db(100.0, Polarization::horizontal) ==
          Approx(0.025).margin(0.0051));
}

TEST_CASE("woodland: loss per metre rises with frequency and does not jump") {
    for (const Polarization p : {Polarization::vertical, Polarization::horizontal}) {
        double before = 0.0;
        for (int step = 0; step < 530; ++step) {
            const double f = 30.0 * std::pow(1.01, step);
            const double now = woodland_loss_per_metre_db(f, p);
            CHECK(now > before);
            if (before > 0.0) {
                CHECK(now < 1.03 * before);
            }
            before = now;
        }
        // Trunks make no difference above 1 GHz (P.833-10 section 2.1).
        CHECK(woodland_loss_per_metre_db(2400.0, p) ==
              woodland_loss_per_metre_db(2400.0, Polarization::vertical));
    }
    CHECK(woodland_loss_per_metre_db(146.0, Polarization::horizontal) <
          woodland_loss_per_metre_db(146.0, Polarization::vertical));
}

TEST_CASE("woodland: loss against depth") {
    // P.833-10 equation (1) by hand with the values of table 1 at 466.475 MHz:
    // 18 (1 - exp(-100 x 0.12 / 18)) = 18 x 0.48658.
    CHECK(woodland_loss_db(100.0, 0.12, 18.0) == Approx(8.7585).margin(1e-3));
    CHECK(woodland_loss_db(0.0, 0.12, 18.0) == 0.0);
    // A short way takes gamma per metre, a long one A_m.
    CHECK(woodland_loss_db(0.01, 0.12, 18.0) == Approx(0.0012).epsilon(1e-3));
    CHECK(woodland_loss_db(1e6, 0.12, 18.0) == Approx(18.0));
    // A handheld below deep trees: the same with the values of its frequency.
    CHECK(WoodlandLoss(Conditions()).db({200.0, 1.5, 15.0, 0.0}) ==
          Approx(woodland_loss_db(200.0, woodland_loss_per_metre_db(146.0, Polarization::vertical),
                                  greatest_woodland_loss_db(146.0))));
}

TEST_CASE("woodland: what cannot be used is refused") {
    CHECK_THROWS_AS(greatest_woodland_loss_db(29.0), Error);
    CHECK_THROWS_AS(woodland_loss_per_metre_db(6001.0, Polarization::vertical), Error);
    CHECK_THROWS_AS(woodland_loss_per_metre_db(NAN, Polarization::vertical), Error);
    CHECK_THROWS_AS(woodland_loss_db(-1.0, 0.1, 10.0), Error);
    CHECK_THROWS_AS(woodland_loss_db(1.0, 0.0, 10.0), Error);
    CHECK_THROWS_AS(woodland_loss_db(1.0, 0.1, NAN), Error);
    Path path("WW..");
    path.woodland.pop_back();
    CHECK_THROWS_AS(path.split(1.5, 1.5), Error);
    CHECK_THROWS_AS(Path("WW..").split(-1.0, 1.5), Error);
}

TEST_CASE("woodland split: no woods, no change") {
    const Path path("..WWW.....");
    const WoodlandSplit split = path.split(1.5, 1.5);
    CHECK(split.cover_m == path.profile.cover_m);
    CHECK(split.transmitter.depth_m == 0.0);
    CHECK(split.receiver.depth_m == 0.0);
}

TEST_CASE("woodland split: the terminal's own trees are a depth, others an obstacle") {
    // Edge midway between the third and the fourth point: 250 m. Level ray: it leaves by the edge.
    const Path path("WWW...WW...");
    const WoodlandSplit split = path.split(1.5, 20.0);
    CHECK(split.cover_m == std::vector<double>{15, 0, 0, 0, 0, 0, 15, 15, 0, 0, 0});
    // The ray rises to the trees at 600 m, 15 m high: slope 13.5 m in 600 m.
    CHECK(split.transmitter.depth_m == Approx(250.0 * std::hypot(1.0, 13.5 / 600.0)));
    CHECK(split.receiver.depth_m == 0.0);
}

TEST_CASE("woodland split: a terminal's own trees are no obstacle above them either") {
    const Path path("WWW...WWW");
    const WoodlandSplit below = path.split(14.9, 14.9);
    const WoodlandSplit above = path.split(16.0, 16.0);
    CHECK(above.cover_m == below.cover_m);
    CHECK(above.cover_m == std::vector<double>{15, 0, 0, 0, 0, 0, 0, 0, 15});
    // Level rays: out by the edge, at 250 m.
    CHECK(above.transmitter.depth_m == Approx(250.0).epsilon(1e-3));
}

TEST_CASE("woodland split: houses of the same height are no woodland") {
    Path path("WWW...WWW");
    path.woodland.assign(path.woodland.size(), 0);
    CHECK(path.split(1.5, 1.5).cover_m == path.profile.cover_m);
    CHECK(path.split(1.5, 1.5).transmitter.depth_m == 0.0);
}

TEST_CASE("woodland split: the same from both ends") {
    Path there("WWWWWW....W..WW");
    Path back("WW..W....WWWWWW");
    for (std::size_t i = 0; i < there.profile.size(); ++i) {
        there.profile.ground_m[i] = 3.0 * static_cast<double>((i * 7) % 5);
        back.profile.ground_m[there.profile.size() - 1 - i] = there.profile.ground_m[i];
    }
    const double radius_km = effective_earth_radius_km(standard_k_factor);
    const WoodlandSplit a = there.split(1.5, 2.0, radius_km);
    const WoodlandSplit b = back.split(2.0, 1.5, radius_km);
    CHECK(a.transmitter.depth_m > 0.0);
    CHECK(a.receiver.depth_m > 0.0);
    CHECK(a.transmitter.depth_m == Approx(b.receiver.depth_m));
    CHECK(a.receiver.depth_m == Approx(b.transmitter.depth_m));
    CHECK(a.cover_m == std::vector<double>(b.cover_m.rbegin(), b.cover_m.rend()));
}

TEST_CASE("woodland split: one wood for both ends is shared at the middle") {
    const Path path("WWWWWWWWWWW");
    const WoodlandSplit split = path.split(1.5, 1.5);
    std::vector<double> ends(11, 0.0);
    ends.front() = ends.back() = 15.0;
    CHECK(split.cover_m == ends);
    CHECK(split.transmitter.depth_m == Approx(500.0));
    CHECK(split.receiver.depth_m == Approx(500.0));
    // A short way in one wood costs what its whole length costs, within the bend of the curve.
    const auto loss = [](double depth_m) {
        return WoodlandLoss(Conditions()).db({depth_m, 1.5, 15.0, 0.0});
    };
    CHECK(2.0 * loss(20.0) == Approx(loss(40.0)).epsilon(0.12));
}

TEST_CASE("woodland split: a wood that reaches a clearing still shades it") {
    // The receiver stands in a clearing behind the wood in which the transmitter is.
    const WoodlandSplit split = Path("WWWWWWWWWW.").split(1.5, 1.5);
    CHECK(split.cover_m == std::vector<double>{15, 0, 0, 0, 0, 0, 15, 15, 15, 15, 0});
    CHECK(split.receiver.depth_m == 0.0);
}

TEST_CASE("woodland split: a steep ray leaves through the tops") {
    // A receiver 1000 m up at 1000 m: slope 0.9985, through the 13.5 m above the antenna.
    Path path("WWWW.......");
    path.profile.ground_m.back() = 1000.0;
    const WoodlandSplit split = path.split(1.5, 0.0);
    const double slope = 998.5 / 1000.0;
    CHECK(split.transmitter.depth_m == Approx(13.5 / slope * std::hypot(1.0, slope)));
    // The same where the terminal's point is all its wood.
    path = Path("W..........");
    path.profile.ground_m.back() = 1000.0;
    CHECK(path.split(1.5, 0.0).transmitter.depth_m ==
          Approx(13.5 / slope * std::hypot(1.0, slope)));
    CHECK(Path("W..........").split(1.5, 1.5).transmitter.depth_m == Approx(50.0));
}

TEST_CASE("woodland split: the earth falls away below a level ray") {
    // By hand on an earth of 8.495 km, 1000 times too small. The ray grazes the ground 200 m out:
    // -(1.5 + 2.354) m in 0.2 km, slope -19.27 m/km. Tops stand 13.5 - 58.86 d^2 + 19.27 d m above
    // it: 3.87 m at 0.6 km, -1.85 m at 0.7 km, which are joined by a straight line.
    const WoodlandSplit split = Path("WWWWWWWWWWWWWWW.....").split(1.5, 1.5, 8.495);
    CHECK(split.transmitter.depth_m == Approx(667.7).margin(0.5));
}

TEST_CASE("woodland: height below the tops gains half a decibel per metre") {
    // Tamir (1967): for n^2 = 1.1 - j 60 lambda 1e-4 the wave is weakened on its way up by
    // k |Im sqrt(n^2 - 1)|. By hand at 146 MHz: lambda 2.0534 m, k 3.0599 /m,
    // n^2 - 1 = 0.1 - j 0.012320, root 0.31683 - j 0.019443: 0.05949 Np/m = 0.5168 dB/m.
    Conditions pure; // no gain over the ground beside to withhold
    pure.method = Method::p1812;
    const WoodlandLoss woods(pure);
    const auto at = [&](double height_m) { return woods.db({1e6, height_m, 16.0, 0.0}); };
    CHECK(at(0.5) == Approx(greatest_woodland_loss_db(146.0)));
    CHECK(at(1.6) == Approx(greatest_woodland_loss_db(146.0)));
    CHECK(at(1.6) - at(6.6) == Approx(5.0 * 0.5168).epsilon(2e-3));
    // As much at 446 MHz: the rate hangs on the conductivity alone.
    pure.frequency_mhz = 446.0;
    const WoodlandLoss uhf(pure);
    CHECK(uhf.db({1e6, 1.6, 16.0, 0.0}) - uhf.db({1e6, 6.6, 16.0, 0.0}) ==
          Approx(5.0 * 0.5168).epsilon(0.02));
}

TEST_CASE("woodland: no jump at the tops, and nothing left well above them") {
    for (const double frequency_mhz : {146.0, 446.0}) {
        Conditions conditions;
        conditions.frequency_mhz = frequency_mhz;
        const WoodlandLoss woods(conditions);
        for (const double slope : {0.0, 20.0, 200.0}) {
            double before = woods.db({500.0, 0.0, 16.0, slope});
            for (int step = 1; step <= 800; ++step) {
                const double height_m = 0.05 * step;
                const double now = woods.db({500.0, height_m, 16.0, slope});
                CAPTURE(frequency_mhz, slope, height_m, before, now);
                REQUIRE(now >= 0.0);
                REQUIRE(std::abs(now - before) < 1.2);
                before = now;
            }
            CHECK(before == 0.0);
        }
        // A wave that leaves at a steep angle never had the ground against it, so nothing is
        // withheld: the loss only falls.
        CHECK(woods.db({500.0, 6.0, 16.0, 200.0}) < woods.db({500.0, 1.5, 16.0, 200.0}));
    }
}
