// In which order do few things come? One search for all, compiled once.
#pragma once

#include <functional>
#include <vector>

namespace hotband {

/// The places 0..count - 1 in order; those of which none comes before the other stay as they are.
/// For some hundreds: it takes their square in moves.
std::vector<size_t> in_order(size_t count, const std::function<bool(size_t, size_t)>& before);

/// What stands at the places, taken out of where it stood.
template <class T>
std::vector<T> taken(std::vector<T>&& from, const std::vector<size_t>& places) {
    std::vector<T> out;
    out.reserve(places.size());
    for (const size_t place : places) {
        out.push_back(std::move(from[place]));
    }
    return out;
}

}  // namespace hotband
