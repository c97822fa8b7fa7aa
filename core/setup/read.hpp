// How does a JSON object fill a struct, and a struct an object, by a field table? Every problem is
// reported by its path with what is accepted; a value with a problem leaves the member's default.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "setup/field.hpp"

namespace hotband {

/// What a field accepts, in words: `a number from 1 to 600 A`.
std::string accepted(const FieldInfo& info);

/// What a value is, in words, short: `null`, `text "abc"`, `a list`.
std::string described(const Json& json);

/// True when the value is of the field's type and range; otherwise one problem or more is added.
bool check_value(const Json& value, const FieldInfo& info, const std::string& path,
                 Problems& problems);

/// True when the value is a list of an accepted length; otherwise a problem is added.
bool check_rows(const Json& value, const FieldInfo& info, const std::string& path,
                Problems& problems);

/// Adds a problem for every key the table does not have, naming the nearest one that it has.
/// False when `json` is not an object at all.
bool check_keys(const Json& json, const std::vector<std::string_view>& keys,
                const std::string& path, Problems& problems);

/// Adds a problem for every told field that does not go with the choice made elsewhere.
void check_only_with(const Json& json, const std::vector<FieldInfo>& infos, Problems& problems);

/// True when no problem so far is at this path or below it.
bool sound(const Problems& problems, std::string_view path);

template <class Owner>
void set_value(const Json& value, const Field<Owner>& field, Owner& owner) {
    std::visit(
        [&](const auto& access) {
            using A = std::decay_t<decltype(access)>;
            if constexpr (std::is_same_v<A, MemberAccess<Owner, double>> ||
                          std::is_same_v<A, MemberAccess<Owner, std::optional<double>>>) {
                access(owner) = *value.as<double>();
            } else if constexpr (std::is_same_v<A, MemberAccess<Owner, std::string>>) {
                access(owner) = *value.as<std::string>();
            } else if constexpr (std::is_same_v<A, MemberAccess<Owner, bool>>) {
                access(owner) = *value.as<bool>();
            } else if constexpr (std::is_same_v<A, MemberAccess<Owner, std::vector<double>>>) {
                std::vector<double>& numbers = access(owner);
                numbers.clear();
                for (const Json& item : *value.as<JsonList>()) {
                    numbers.push_back(*item.as<double>());
                }
            } else if constexpr (std::is_same_v<A, ChoiceAccess<Owner>>) {
                const auto& choices = field.info.choices;
                for (size_t i = 0; i < choices.size(); ++i) {
                    if (choices[i] == *value.as<std::string>()) {
                        access.set(owner, i);
                    }
                }
            }
        },
        field.access);
}

/// Checks one value and, when it is accepted, sets the member.
template <class Owner>
void read_field(const Json& value, const Field<Owner>& field, Owner& owner, const std::string& path,
                Problems& problems) {
    if (const auto* rows = std::get_if<RowsAccess<Owner>>(&field.access)) {
        rows->read(value, field.info, owner, path, problems);
    } else if (check_value(value, field.info, path, problems)) {
        set_value(value, field, owner);
    }
}

/// Fills `owner` from an object by its table. `path` is where the object stands.
template <class Owner>
void read_object(const Json& json, const std::vector<Field<Owner>>& fields, Owner& owner,
                 const std::string& path, Problems& problems) {
    std::vector<std::string_view> keys;
    keys.reserve(fields.size());
    for (const Field<Owner>& field : fields) {
        keys.push_back(field.info.key);
    }
    if (!check_keys(json, keys, path, problems)) {
        return;
    }
    for (const Field<Owner>& field : fields) {
        const std::string field_path = path_join(path, field.info.key);
        if (const Json* value = find(json, field.info.key)) {
            read_field(*value, field, owner, field_path, problems);
        } else if (field.info.presence == Presence::required) {
            problems.push_back(
                {field_path, "is missing: " + accepted(field.info) + " is required"});
        }
    }
}

/// Fills `owner` from a list whose places are the table's rows in order.
template <class Owner>
void read_tuple(const Json& json, const std::vector<Field<Owner>>& fields, Owner& owner,
                const std::string& path, Problems& problems) {
    const JsonList* list = json.as<JsonList>();
    if (list == nullptr || list->size() != fields.size()) {
        std::string names;
        for (const Field<Owner>& field : fields) {
            names += (names.empty() ? "" : ", ") + std::string(field.info.key);
        }
        problems.push_back({path, "must be a list [" + names + "], not " + described(json)});
        return;
    }
    for (size_t i = 0; i < fields.size(); ++i) {
        read_field((*list)[i], fields[i], owner, path_join(path, i), problems);
    }
}

/// The member as JSON; null when it is not told.
template <class Owner>
Json write_value(const Field<Owner>& field, Owner& owner) {
    return std::visit(
        [&](const auto& access) -> Json {
            using A = std::decay_t<decltype(access)>;
            if constexpr (std::is_same_v<A, MemberAccess<Owner, std::optional<double>>>) {
                return access(owner) ? Json{*access(owner)} : Json{};
            } else if constexpr (std::is_same_v<A, MemberAccess<Owner, std::vector<double>>>) {
                JsonList list;
                for (const double number : access(owner)) {
                    list.push_back(Json{number});
                }
                return Json{std::move(list)};
            } else if constexpr (std::is_same_v<A, ChoiceAccess<Owner>>) {
                return Json{std::string(field.info.choices[access.get(owner)])};
            } else if constexpr (std::is_same_v<A, RowsAccess<Owner>>) {
                return access.write(owner);
            } else {
                return Json{access(owner)};
            }
        },
        field.access);
}

/// The struct as an object holding what is required or differs from the default, in table order.
template <class Owner>
Json write_object(const std::vector<Field<Owner>>& fields, Owner& owner) {
    Json object{JsonObject{}};
    for (const Field<Owner>& field : fields) {
        Json value = write_value(field, owner);
        if (value.is_null()) {
            continue;
        }
        if (field.info.presence == Presence::required || !(value == *field.info.standard)) {
            put(object, field.info.key, std::move(value));
        }
    }
    return object;
}

/// The struct as a list in table order.
template <class Owner>
Json write_tuple(const std::vector<Field<Owner>>& fields, Owner& owner) {
    JsonList list;
    for (const Field<Owner>& field : fields) {
        list.push_back(write_value(field, owner));
    }
    return Json{std::move(list)};
}

/// Access to a list member; `Table` gives the FieldTable of one element.
template <auto Table, bool Tuple, auto... Path>
constexpr auto to_rows_as() {
    using Owner = OwnerOf<Path...>;
    using Element =
        typename std::remove_reference_t<decltype(at<Path...>(std::declval<Owner&>()))>::value_type;
    return Access<Owner>(RowsAccess<Owner>{
        [](const Json& list, const FieldInfo& info, Owner& owner, const std::string& path,
           Problems& problems) {
            if (!check_rows(list, info, path, problems)) {
                return;
            }
            auto& elements = at<Path...>(owner);
            elements.clear();
            const JsonList& rows = *list.as<JsonList>();
            for (size_t i = 0; i < rows.size(); ++i) {
                Element element{};
                if constexpr (Tuple) {
                    read_tuple(rows[i], Table().fields(), element, path_join(path, i), problems);
                } else {
                    read_object(rows[i], Table().fields(), element, path_join(path, i), problems);
                }
                elements.push_back(std::move(element));
            }
        },
        [](Owner& owner) {
            JsonList rows;
            for (Element& element : at<Path...>(owner)) {
                if constexpr (Tuple) {
                    rows.push_back(write_tuple(Table().fields(), element));
                } else {
                    rows.push_back(write_object(Table().fields(), element));
                }
            }
            return Json{std::move(rows)};
        },
        []() -> const std::vector<FieldInfo>& { return Table().infos(); }, Tuple});
}

/// A list of objects.
template <auto Table, auto... Path>
constexpr auto to_rows() {
    return to_rows_as<Table, false, Path...>();
}

/// A list of fixed-length lists.
template <auto Table, auto... Path>
constexpr auto to_tuples() {
    return to_rows_as<Table, true, Path...>();
}

/// The rows of a struct, completed with what each member itself tells: its type, its default, the
/// table of its rows. Made once and kept, as the rows point into it.
template <class Owner>
class FieldTable {
 public:
    template <size_t N>
    explicit FieldTable(const Field<Owner> (&rows)[N]) : fields_(rows, rows + N), standards_(N) {
        Owner standard{};
        for (size_t i = 0; i < N; ++i) {
            FieldInfo& info = fields_[i].info;
            const Access<Owner>& access = fields_[i].access;
            if (std::holds_alternative<MemberAccess<Owner, std::string>>(access)) {
                info.type = FieldType::text;
            } else if (std::holds_alternative<MemberAccess<Owner, bool>>(access)) {
                info.type = FieldType::flag;
            } else if (std::holds_alternative<MemberAccess<Owner, std::vector<double>>>(access)) {
                info.type = FieldType::numbers;
            } else if (std::holds_alternative<ChoiceAccess<Owner>>(access)) {
                info.type = FieldType::choice;
            } else if (const auto* list = std::get_if<RowsAccess<Owner>>(&access)) {
                info.type = FieldType::rows;
                info.rows = &list->infos();
                info.tuple = list->tuple;
            }
            standards_[i] = write_value(fields_[i], standard);
            info.standard = &standards_[i];
            infos_.push_back(info);
        }
    }
    FieldTable(const FieldTable&) = delete;
    FieldTable& operator=(const FieldTable&) = delete;

    const std::vector<Field<Owner>>& fields() const { return fields_; }
    const std::vector<FieldInfo>& infos() const { return infos_; }

 private:
    std::vector<Field<Owner>> fields_;
    std::vector<Json> standards_;
    std::vector<FieldInfo> infos_;
};

}  // namespace hotband
