// The house's doors: text in, text out. The program and the wasm binding call these and nothing
// else.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>

#include "advise/advise.hpp"
#include "setup/parse.hpp"

namespace hotband {

/// Most plants that a call may ask for: forty times the usual number, some seconds of work.
inline constexpr int most_samples = 10000;

/// Setup JSON -> report JSON v1. `samples` quasi-random plants make the 10-50-90 band; 0 leaves the
/// band out (p10 and p90 null, chance_over_limit null) for an answer in one frame. `scale`: of the
/// sentences alone.
Result<std::string> advise_text(std::string_view setup_json, int samples = usual_samples,
                                Scale scale = Scale::celsius);

/// One switching-cycle case or an array of them (contract, `hotband cycle`) -> results, same shape.
Result<std::string> cycle_text(std::string_view case_json);

/// One thermal-network case or an array of them (contract, `hotband heat`) -> results, same shape.
Result<std::string> heat_text(std::string_view case_json);

/// Setup JSON -> share-link text.
Result<std::string> link_text(std::string_view setup_json);

/// Share-link text -> setup JSON.
Result<std::string> unlink_text(std::string_view link);

/// A logger's file and what its columns are -> damaged rows, steady holds, the prediction beside
/// the log. `table` is row-major with `columns` numbers a row, NaN where a cell is missing or
/// cannot be read. Options, null meaning not told:
///   {"setup": setup v1, "columns": {"time_s": 0, "throttle_pct": 1, "current_A": 2, "voltage_V":
///   3, "esc_C": 4, "rpm": 5}, "row_s": seconds from row to row where no column is the time,
///    "time_unit": "s|ms|us|min", "temperature_unit": "C|F", "throttle_unit": "pct|us|share",
///    "throttle_ends": [raw value of no throttle, of full throttle], "current_unit": "A|mA",
///    "voltage_unit": "V|mV"}
/// Answer, rows counted from 0:
///   {"rows", "used", "repeated_times", "row_s", "damaged": [{"reason", "count", "first_rows"}],
///    "sessions": [{"first_row", "last_row", "start_s", "end_s"}], "ranges": {"esc_C": [least,
///    most] or null, ...}, "steady_by": "throttle|current" or null, "holds": [{"session",
///    "first_row", "last_row", "start_s", "end_s", "text", "measured", "problems"}], "history":
///    {"text", "seconds", "samples", "by", "rms_K", "mean_K", "worst_K", "worst_t_s",
///    "worst_session", "series": [{"session", "t_s", "logged_C", "predicted_C"}]} or null}
/// `measured` is a row of the setup's `measured` as it stands, but for a `throttle_pct` of null
/// where neither log nor setup tells it, and for `problems`, which name what a setup would refuse.
/// `history` is null without a setup, a temperature and a current (or, but for rotors, a throttle).
Result<std::string> log_text(std::span<const double> table, size_t columns,
                             std::string_view options_json);

inline constexpr size_t most_log_bytes = 256'000'000;

/// A logger's file as it is (text with a column for each figure, in whichever dialect) -> what
/// `log_text` answers, damaged rows also by their lines in the file (`first_lines`), and before it
/// what was found: {"file": {"encoding", "delimiter", "decimal", "decimal_sure", "header_line",
/// "first_data_line", "columns": [{"name", "unit", "kind"}], "roles": {"time_s": {"column", "name",
/// "confidence": "sure|likely|unsure|told"} or null, ...}, "units": {"time_unit", ...},
/// "unreadable": [{"column", "name", "count", "first_lines", "examples"}], "short_lines": {"count",
/// "first_lines"}, "empty_lines"}, ...}. Lines are counted from 1, columns from 0. Options as of
/// `log_text`, with the file's columns: what they leave out is guessed, a column of null is none.
Result<std::string> log_file_text(std::string_view bytes, std::string_view options_json = "{}");

/// The field table as JSON.
std::string fields_text();

}  // namespace hotband
