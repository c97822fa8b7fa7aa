// Lines to numbers; see table.hpp.
#include "logger/table.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "physics/none.hpp"

namespace hotband::logger {
namespace {

constexpr size_t most_named = 5;
constexpr size_t most_example = 40;  // characters
constexpr double day_s = 86400;

void name(NamedLines& named, size_t line) {
    ++named.count;
    if (named.first_lines.size() < most_named) {
        named.first_lines.push_back(line);
    }
}

}  // namespace

TableReader::TableReader(const Layout& layout, std::vector<size_t> columns)
    : layout_(layout),
      columns_(std::move(columns)),
      lines_(layout.encoding),
      last_(columns_.size(), none),
      days_(columns_.size(), 0) {
    for (const size_t column : columns_) {
        needed_ = std::max(needed_, column + 1);
        table_.unreadable.push_back({.column = column, .lines = {}, .examples = {}});
    }
}

void TableReader::take(std::string_view line) {
    ++line_;
    if (line_ < layout_.data_line) {
        return;
    }
    cells_of(line, layout_.delimiter, cells_);
    if (cells_.size() == 1 && trimmed(cells_[0]).empty()) {
        ++table_.empty_lines;
        return;
    }
    if (cells_.size() < needed_) {
        name(table_.short_lines, line_);
    }
    ++table_.rows;
    table_.lines.push_back(static_cast<std::uint32_t>(line_));
    for (size_t i = 0; i < columns_.size(); ++i) {
        const size_t place = columns_[i];
        const std::string_view cell =
            place < cells_.size() ? std::string_view(cells_[place]) : std::string_view();
        const Kind kind =
            place < layout_.columns.size() ? layout_.columns[place].kind : Kind::number;
        double value = value_in(cell, kind, layout_.decimal);
        if (std::isnan(value)) {
            if (!is_missing(cell)) {
                Unreadable& bad = table_.unreadable[i];
                name(bad.lines, line_);
                if (bad.examples.size() < most_named) {
                    bad.examples.emplace_back(first_of(cell, most_example));
                }
            }
        } else if (kind == Kind::clock) {
            days_[i] += last_[i] - value > day_s / 2 ? 1 : 0;
            last_[i] = value;
            value += days_[i] * day_s;
        }
        table_.numbers.push_back(value);
    }
}

void TableReader::add(std::string_view piece) {
    lines_.add(piece, [&](std::string_view line) { take(line); });
}

Table TableReader::finish() {
    lines_.finish([&](std::string_view line) { take(line); });
    table_.unreadable.erase(
        std::remove_if(table_.unreadable.begin(), table_.unreadable.end(),
                       [](const Unreadable& column) { return column.lines.count == 0; }),
        table_.unreadable.end());
    return std::move(table_);
}

}  // namespace hotband::logger
