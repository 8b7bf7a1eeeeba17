#include "earshot/propagation/path_loss.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

#include <iostream>

using namespace earshot;

TEST_CASE("example of propagation/path_loss.hpp") {
    const terrain::Profile profile =
        terrain::sample_profile(examples::hills(), examples::ridge, examples::camp);
    const propagation::Conditions conditions;
    const propagation::PathLoss loss = propagation::path_loss(profile, {10.0, 1.5}, conditions);
    std::cout << loss.total_db() << " dB" << (loss.sight.clear ? ", in sight\n" : "\n");
    CHECK(loss.total_db() > loss.free_space_db - 3.0);
}
