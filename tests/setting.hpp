#pragma once

#include "earshot/link/path.hpp"

namespace earshot::test {

/// A request made on a ground, which must outlive it.
template <typename Request>
[[nodiscard]] Request on(const terrain::HeightGrid& ground, Request request) {
    static_cast<link::Setting&>(request).ground = &ground;
    return request;
}

} // namespace earshot::test
