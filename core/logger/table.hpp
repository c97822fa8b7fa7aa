// The whole log as numbers: read in pieces, so that only what was chosen stands in memory. A cell
// that holds no number becomes NaN and is counted; no line is passed over in silence.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "logger/layout.hpp"

namespace hotband::logger {

/// Lines with something wrong, the first few by number (counted from 1, as an editor shows them).
struct NamedLines {
    size_t count = 0;
    std::vector<size_t> first_lines;
};

struct Unreadable {
    size_t column = 0;  // place in the file
    NamedLines lines;
    std::vector<std::string> examples;  // the first cells that could not be read, as they stand
};

struct Table {
    /// Row by row, a number for each chosen column in the order asked for; NaN where there is none.
    std::vector<double> numbers;
    size_t rows = 0;
    std::vector<std::uint32_t> lines;  // of each row in the file, counted from 1
    std::vector<Unreadable> unreadable;
    NamedLines short_lines;  // with fewer cells than the columns chosen need
    size_t empty_lines = 0;  // they are no rows
};

/// Reads the chosen columns (places counted from 0) of every line of data.
class TableReader {
 public:
    TableReader(const Layout& layout, std::vector<size_t> columns);

    /// The file's next bytes.
    void add(std::string_view piece);
    /// Rows so far.
    size_t rows() const { return table_.rows; }
    Table finish();

 private:
    void take(std::string_view line);

    const Layout& layout_;
    std::vector<size_t> columns_;
    size_t needed_ = 0;
    Lines lines_;
    size_t line_ = 0;
    std::vector<std::string> cells_;
    std::vector<double> last_;  // of clock times, for those that go on past midnight
    std::vector<double> days_;
    Table table_;
};

}  // namespace hotband::logger
