// What is a field? One row of a table: what it is called, what it accepts, and which member it
// fills. Everything that reads, writes, lists or shares a field does so from its row.
#pragma once

#include <array>
#include <cstddef>
#include <initializer_list>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include "setup/json.hpp"

namespace hotband {

enum class FieldType { number, integer, text, choice, flag, numbers, rows };

/// What happens when the field is not told.
enum class Presence {
    standard,   // the struct's default stands
    required,   // a problem
    estimated,  // a prior takes its place and the report lists it
    told,       // nothing takes its place; it is used only when told
};

/// A few words, held in place so that a table is constant data.
class Words {
 public:
    constexpr Words() = default;
    constexpr Words(std::initializer_list<std::string_view> words) {
        for (const std::string_view word : words) {
            words_[count_++] = word;
        }
    }
    constexpr const std::string_view* begin() const { return words_.data(); }
    constexpr const std::string_view* end() const { return words_.data() + count_; }
    constexpr size_t size() const { return count_; }
    constexpr bool empty() const { return count_ == 0; }
    constexpr std::string_view operator[](size_t index) const { return words_[index]; }

 private:
    static constexpr size_t most = 6;  // more do not compile
    std::array<std::string_view, most> words_ = {};
    size_t count_ = 0;
};

/// The data of one row.
struct FieldInfo {
    std::string_view key = {};  // dotted from the owner: `pack.cells`

    /// Two characters in the share link: permanent, never used again.
    std::string_view code = {};

    FieldType type = FieldType::number;  // filled in from the member, but for `integer`
    Presence presence = Presence::standard;
    std::string_view unit = {};

    /// Bounds of a number, of each of several numbers, or of a text's count of characters.
    double least = -std::numeric_limits<double>::infinity();
    double most = std::numeric_limits<double>::infinity();
    bool above = false;  // `least` itself is not accepted
    bool even = false;   // integers: odd ones are refused

    size_t least_count = 0;  // how many numbers or rows
    size_t most_count = 0;

    Words choices = {};  // their order is permanent: the share link keeps the index
    bool quick = false;  // one of the page's quick questions
    std::string_view label = {};
    std::string_view help = {};

    /// The field goes only with these values of another choice field: named from the root when its
    /// key is dotted, else in the same row.
    std::string_view only_with = {};
    Words only_for = {};

    // Filled in from the member:
    bool tuple = false;              // rows: each is a list in table order, not an object
    const Json* standard = nullptr;  // the struct's default; holds null when there is none
    const std::vector<FieldInfo>* rows = nullptr;  // rows: the table of one
};

/// An enum member as the index of its choice.
template <class Owner>
struct ChoiceAccess {
    size_t (*get)(const Owner&);
    void (*set)(Owner&, size_t);
};

/// A list member whose elements have a table of their own.
template <class Owner>
struct RowsAccess {
    void (*read)(const Json& list, const FieldInfo& info, Owner& owner, const std::string& path,
                 Problems& problems);
    Json (*write)(Owner& owner);
    const std::vector<FieldInfo>& (*infos)();
    bool tuple;
};

template <class Owner, class T>
using MemberAccess = T& (*)(Owner&);

template <class Owner>
using Access =
    std::variant<MemberAccess<Owner, double>, MemberAccess<Owner, std::optional<double>>,
                 MemberAccess<Owner, std::string>, MemberAccess<Owner, bool>,
                 MemberAccess<Owner, std::vector<double>>, ChoiceAccess<Owner>, RowsAccess<Owner>>;

/// One row of the table of `Owner`.
template <class Owner>
struct Field {
    FieldInfo info;
    Access<Owner> access;
};

/// The class a pointer to member starts from.
template <class Owner, class T>
Owner owner_of(T Owner::*);
template <auto First, auto...>
struct OwnerOfPath {
    using Type = decltype(owner_of(First));
};
template <auto... Path>
using OwnerOf = typename OwnerOfPath<Path...>::Type;

/// The member at the end of a path of member pointers.
template <auto... Path, class Owner>
auto& at(Owner& owner) {
    return (owner.*....*Path);
}

/// Access to the member at the end of the path.
template <auto... Path>
constexpr auto to() {
    using Owner = OwnerOf<Path...>;
    using Member = std::remove_reference_t<decltype(at<Path...>(std::declval<Owner&>()))>;
    if constexpr (std::is_enum_v<Member>) {
        return Access<Owner>(ChoiceAccess<Owner>{
            [](const Owner& owner) { return static_cast<size_t>(at<Path...>(owner)); },
            [](Owner& owner, size_t index) { at<Path...>(owner) = static_cast<Member>(index); }});
    } else {
        return Access<Owner>(MemberAccess<Owner, Member>(
            [](Owner& owner) -> Member& { return at<Path...>(owner); }));
    }
}

/// Access to one place of an array.
template <class Array, size_t Index>
constexpr auto to_place() {
    using Member = typename Array::value_type;
    return Access<Array>(
        MemberAccess<Array, Member>([](Array& array) -> Member& { return array[Index]; }));
}

}  // namespace hotband
