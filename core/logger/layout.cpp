// Layout and quoting; see layout.hpp. Quotes as in RFC 4180, white space allowed behind a closing
// one.
#include "logger/layout.hpp"

#include <algorithm>
#include <map>
#include <utility>

#include "logger/units.hpp"

namespace hotband::logger {
namespace {

constexpr std::string_view delimiters[] = {",", ";", "\t", "|"};
constexpr size_t sample_lines = 400;
constexpr size_t most_header_lines = 100;

/// Parts a line at its delimiters; false where its quotes do not add up.
bool part(std::string_view line, std::string_view delimiter, std::vector<std::string>& cells) {
    cells.clear();
    for (size_t at = 0;;) {
        size_t end = 0;
        if (at < line.size() && line[at] == '"') {
            std::string cell;
            for (size_t from = at + 1;;) {
                const size_t quote = line.find('"', from);
                if (quote == line.npos) {
                    return false;
                }
                cell += line.substr(from, quote - from);
                if (quote + 1 < line.size() && line[quote + 1] == '"') {
                    cell += '"';
                    from = quote + 2;
                    continue;
                }
                end = std::min(line.find(delimiter, quote + 1), line.size());
                if (!trimmed(line.substr(quote + 1, end - quote - 1)).empty()) {
                    return false;
                }
                break;
            }
            cells.push_back(std::move(cell));
        } else {
            end = std::min(line.find(delimiter, at), line.size());
            cells.emplace_back(line.substr(at, end - at));
        }
        if (end == line.size()) {
            return true;
        }
        at = end + delimiter.size();
    }
}

size_t quotes_in(std::string_view text) {
    return static_cast<size_t>(std::count(text.begin(), text.end(), '"'));
}

/// Whether a quoted cell is still open at the end of a line: its quote stood at the cell's
/// beginning.
bool leaves_open(std::string_view line) {
    bool open = false;
    for (size_t at = line.find('"'); at != line.npos; at = line.find('"', at + 1)) {
        // a doubled quote closes and opens again
        open = !open && (at == 0 ||
                         std::string_view(",;\t|\"").find(line[at - 1]) != std::string_view::npos);
    }
    return open;
}

/// Figures do not stand in a name; where there are quotes, it takes two side by side to tell.
bool only_figures(std::string_view line) {
    const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
    bool quoted = false;
    std::string bare;  // but for quotes
    for (size_t at = 0; at < line.size();) {
        const Character c = character_at(line, at);
        const bool digit = c.value < 0x80 && is_digit(static_cast<char>(c.value));
        const bool mark = c.value == '.' || c.value == ',' || c.value == ';' || c.value == '-';
        if (!digit && !mark && c.value != '"' && !is_space(c.value)) {
            return false;
        }
        quoted = quoted || c.value == '"';
        if (c.value != '"') {
            bare += line.substr(at, c.bytes);
        }
        at += c.bytes;
    }
    if (!quoted) {
        return !line.empty();
    }
    for (size_t at = 1; at + 1 < bare.size(); ++at) {
        if (is_digit(bare[at - 1]) && (bare[at] == ',' || bare[at] == ';' || bare[at] == '\t')) {
            const char next = bare[at + 1];
            const bool negative = next == '-' && at + 2 < bare.size();
            const char first = negative ? bare[at + 2] : next;
            if (is_digit(first) || first == '.') {
                return true;
            }
        }
    }
    return false;
}

struct Line {
    size_t number;  // counted from 1
    std::string text;
};

/// The lines, with those joined that a quoted name of the header breaks apart.
std::vector<Line> joined(const std::vector<std::string>& lines) {
    std::vector<Line> out;
    for (size_t i = 0; i < lines.size(); ++i) {
        Line line{i + 1, lines[i]};
        if (i < most_header_lines && leaves_open(lines[i])) {
            std::string whole = lines[i];
            bool broken = only_figures(lines[i]);
            for (size_t k = i + 1; k < std::min(lines.size(), i + most_header_lines); ++k) {
                whole += ' ' + lines[k];
                broken = broken || only_figures(lines[k]);
                if (quotes_in(lines[k]) % 2 == 0) {
                    continue;
                }
                if (!broken) {
                    line.text = std::move(whole);
                    i = k;
                }
                break;
            }
        }
        out.push_back(std::move(line));
    }
    return out;
}

struct Parsed {
    size_t number;
    std::vector<std::string> cells;
    double figures;  // share of its told cells that are figures
};

std::vector<Parsed> parsed(const std::vector<Line>& lines, std::string_view delimiter) {
    std::vector<Parsed> rows;
    for (const Line& line : lines) {
        if (trimmed(line.text).empty()) {
            continue;
        }
        Parsed row{line.number, {}, 0};
        cells_of(line.text, delimiter, row.cells);
        size_t told = 0;
        size_t figures = 0;
        for (const std::string& cell : row.cells) {
            const bool missing = is_missing(cell);
            told += missing ? 0 : 1;
            figures += !missing && is_figure(cell) ? 1 : 0;
        }
        row.figures = static_cast<double>(figures) / static_cast<double>(std::max(told, size_t{1}));
        rows.push_back(std::move(row));
    }
    return rows;
}

struct Width {
    size_t cells = 1;
    double share = 0;  // of the rows of figures
};

/// The usual number of cells in rows of figures; of two as usual, the one that came first.
Width usual_width(const std::vector<Parsed>& rows) {
    std::map<size_t, std::pair<size_t, size_t>> counts;  // rows of it, first of them
    size_t data = 0;
    for (const Parsed& row : rows) {
        if (row.figures >= 0.5) {
            auto& [count, first] = counts.try_emplace(row.cells.size(), 0, data).first->second;
            ++count;
            ++data;
        }
    }
    Width out;
    size_t most = 0;
    size_t most_first = 0;
    for (const auto& [cells, counted] : counts) {
        const auto& [count, first] = counted;
        if (count > most || (count == most && first < most_first)) {
            out.cells = cells;
            most = count;
            most_first = first;
        }
    }
    out.share = data > 0 ? static_cast<double>(most) / static_cast<double>(data) : 0;
    return out;
}

/// A spreadsheet's `sep=;`, quoted or not: the delimiter, empty where the line is none.
std::string hinted(std::string_view line) {
    std::string_view text = trimmed(line);
    if (text.size() >= 2 && text.front() == '"' && text.back() == '"') {
        text = text.substr(1, text.size() - 2);
    } else if (const size_t at = text.size(); at >= 1 && text.back() == '=') {
        // a tab is white space, and trimmed away with the rest
        const size_t end = static_cast<size_t>(text.data() - line.data()) + at;
        text = {text.data(), at + (end < line.size() && line[end] == '\t' ? 1U : 0U)};
    }
    constexpr size_t named = 4;
    std::string mark;
    for (const char c : text.substr(0, named)) {
        mark += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    }
    if (mark != "sep=" || text.size() == named) {
        return {};
    }
    const Character c = character_at(text, named);
    const bool word = c.value < 0x80 &&
                      ((c.value >= '0' && c.value <= '9') || c.value == '_' ||
                       (c.value >= 'A' && c.value <= 'Z') || (c.value >= 'a' && c.value <= 'z'));
    const bool space = is_space(c.value) && c.value != '\t';
    if (named + c.bytes != text.size() || c.value > 0xFFFF || word || space || c.value == '"') {
        return {};
    }
    return std::string(text.substr(named));
}

/// The delimiter that gives rows of one width full of figures.
std::string delimiter_of(const std::vector<Line>& lines) {
    if (!lines.empty()) {
        std::string hint = hinted(lines[0].text);
        if (!hint.empty()) {
            return hint;
        }
    }
    std::string_view best = ",";
    double most = 0;
    for (const std::string_view delimiter : delimiters) {
        const std::vector<Parsed> rows = parsed(lines, delimiter);
        const Width width = usual_width(rows);
        if (width.cells < 2) {
            continue;
        }
        double figures = 0;
        for (const Parsed& row : rows) {
            figures += row.figures;
        }
        const double score = width.share * figures / static_cast<double>(rows.size());
        if (score > most * 1.05) {
            best = delimiter;
            most = score;
        }
    }
    return std::string(best);
}

std::string without_brackets(std::string_view cell) {
    std::string out;
    for (const char c : cell) {
        if (std::string_view("()[]").find(c) == std::string_view::npos) {
            out += c;
        }
    }
    return out;
}

/// A line under the header that holds nothing but units.
bool is_unit_line(const std::vector<std::string>& cells) {
    size_t told = 0;
    size_t units = 0;
    for (const std::string& cell : cells) {
        const std::string bare = without_brackets(cell);
        told += trimmed(bare).empty() ? 0 : 1;
        units += unit_named(bare).empty() ? 0 : 1;
    }
    return told > 0 && static_cast<double>(units) >= 0.7 * static_cast<double>(told);
}

struct Header {
    size_t header_line = 0, data_line = 1;
    std::vector<std::string> headings, units;
};

Header header_of(const std::vector<Parsed>& rows, size_t width) {
    // `Rate;10` in a preamble is half a figure: data has more, where any line has
    const bool half =
        std::all_of(rows.begin(), rows.end(), [](const Parsed& row) { return row.figures <= 0.5; });
    const auto is_data = [&](size_t i) {
        return half ? rows[i].figures == 0.5 : rows[i].figures > 0.5;
    };
    // the first row of figures, of the usual width, that others follow
    size_t first = 0;
    for (; first < rows.size(); ++first) {
        const size_t end = std::min(rows.size(), first + 6);
        size_t follow = 0;
        for (size_t i = first + 1; i < end; ++i) {
            follow += is_data(i) ? 1 : 0;
        }
        const size_t next = end - first - 1;
        if (is_data(first) && rows[first].cells.size() == width &&
            (next == 0 || is_data(first + 1)) && 2 * follow >= next) {
            break;
        }
    }
    const auto names = [&](size_t before) {
        return before <= first && rows[first - before].figures < 0.5 &&
               2 * rows[first - before].cells.size() >= width;
    };
    Header out;
    if (first < rows.size()) {
        out.data_line = rows[first].number;
    } else {
        out.data_line = rows.empty() ? 1 : rows.back().number + 1;
    }
    const bool units = names(1) && is_unit_line(rows[first - 1].cells) && names(2);
    const size_t before = units ? 2 : 1;
    if (names(before)) {
        out.header_line = rows[first - before].number;
        out.headings = rows[first - before].cells;
    }
    if (units) {
        out.units = rows[first - 1].cells;
    }
    return out;
}

/// The unit that most cells carry behind their number.
std::string common_unit(const std::vector<std::string_view>& cells, Decimal decimal) {
    std::map<std::string_view, size_t> counts;
    for (const std::string_view cell : cells) {
        const std::string_view unit = unit_named(unit_behind(cell, decimal));
        if (!unit.empty()) {
            ++counts[unit];
        }
    }
    for (const auto& [unit, count] : counts) {
        if (2 * count > cells.size()) {
            return std::string(unit);
        }
    }
    return {};
}

Column column_of(const Header& header, size_t place, const Layout& layout) {
    std::vector<std::string_view> cells;
    for (const std::vector<std::string>& row : layout.sample) {
        cells.push_back(place < row.size() ? std::string_view(row[place]) : std::string_view());
    }
    const auto cell = [&](const std::vector<std::string>& row) {
        return place < row.size() ? row[place] : std::string();
    };
    Heading heading = heading_of(cell(header.headings));
    if (heading.unit.empty()) {
        heading.unit = unit_named(without_brackets(cell(header.units)));
    }
    if (heading.unit.empty()) {
        heading.unit = common_unit(cells, layout.decimal);
    }
    if (heading.name.empty()) {
        heading.name = "Column " + std::to_string(place + 1);
    }
    return {heading.name, heading.unit, kind_of(cells, layout.decimal)};
}

}  // namespace

void cells_of(std::string_view line, std::string_view delimiter, std::vector<std::string>& cells) {
    if (part(line, delimiter, cells)) {
        return;
    }
    std::string bare(line);
    bare.erase(std::remove(bare.begin(), bare.end(), '"'), bare.end());
    part(bare, delimiter, cells);
}

Layout layout_of(std::string_view head, bool whole) {
    Layout out;
    out.encoding = encoding_of(head);
    std::vector<std::string> all = head_lines(head, out.encoding, whole);
    all.resize(std::min(all.size(), sample_lines));
    const std::vector<Line> lines = joined(all);
    out.delimiter = delimiter_of(lines);
    std::vector<Parsed> rows = parsed(lines, out.delimiter);
    if (!rows.empty() && rows[0].number == 1 && !hinted(lines[0].text).empty()) {
        rows.erase(rows.begin());
    }
    const size_t width = usual_width(rows).cells;
    const Header header = header_of(rows, width);
    out.header_line = header.header_line;
    out.data_line = header.data_line;
    for (Parsed& row : rows) {
        if (row.number >= out.data_line) {
            out.sample.push_back(std::move(row.cells));
        }
    }
    std::vector<std::string_view> cells;
    for (const std::vector<std::string>& row : out.sample) {
        cells.insert(cells.end(), row.begin(), row.end());
    }
    const DecimalFound found = decimal_of(cells);
    out.decimal = found.decimal;
    out.decimal_sure = found.sure;
    const size_t count = std::max({width, header.headings.size(), size_t{1}});
    for (size_t place = 0; place < count; ++place) {
        out.columns.push_back(column_of(header, place, out));
    }
    return out;
}

}  // namespace hotband::logger
