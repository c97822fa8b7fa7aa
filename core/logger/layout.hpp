// How is a log laid out? Delimiter, header, decimal sign and the kind of each column, told by the
// first lines of the file. A record is one line, but for a header whose quoted names hold breaks.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "logger/cells.hpp"
#include "logger/text.hpp"

namespace hotband::logger {

struct Column {
    std::string name;
    std::string unit;  // empty where none is told
    Kind kind = Kind::empty;
};

struct Layout {
    Encoding encoding = Encoding::utf_8;
    std::string delimiter = ",";
    Decimal decimal = Decimal::point;
    bool decimal_sure = true;  // false where the cells leave it open
    size_t header_line = 0;    // counted from 1; 0 where there is none
    size_t data_line = 1;      // first line of data, counted from 1
    std::vector<Column> columns;
    std::vector<std::vector<std::string>> sample;  // cells of the first lines of data
};

/// The layout by the file's first bytes; `whole` where they are all of it.
Layout layout_of(std::string_view head, bool whole);

/// The cells of one line. A quote that is never closed is an ordinary character.
void cells_of(std::string_view line, std::string_view delimiter, std::vector<std::string>& cells);

}  // namespace hotband::logger
