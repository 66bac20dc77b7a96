// A value or the reason why there is none: the part of std::expected (C++23) that this project
// uses, spelled the same, so that it can be replaced by it one day. No exceptions, no heap.
#pragma once

#include <new>
#include <type_traits>
#include <utility>

namespace cardseal {

template <class E>
class Unexpected {
public:
  constexpr explicit Unexpected(E error) : error_(std::move(error)) {}
  constexpr const E& error() const& { return error_; }
  constexpr E&& error() && { return std::move(error_); }

private:
  E error_;
};

template <class E>
Unexpected(E) -> Unexpected<E>;

// T must be movable and not an Unexpected. Reading the side that is not there stops the program:
// it is a mistake of ours, never of the input.
template <class T, class E>
class [[nodiscard]] Result {
public:
  using value_type = T;
  using error_type = E;

  Result(T value) : has_value_(true) { new (&value_) T(std::move(value)); }
  template <class G>
  Result(Unexpected<G> unexpected) : has_value_(false) {
    new (&error_) E(std::move(unexpected).error());
  }
  Result(Result&& other) noexcept : has_value_(other.has_value_) {
    if (has_value_) {
      new (&value_) T(std::move(other.value_));
    } else {
      new (&error_) E(std::move(other.error_));
    }
  }
  Result(const Result& other) : has_value_(other.has_value_) {
    if (has_value_) {
      new (&value_) T(other.value_);
    } else {
      new (&error_) E(other.error_);
    }
  }
  Result& operator=(Result other) noexcept {
    this->~Result();
    new (this) Result(std::move(other));
    return *this;
  }
  ~Result() {
    if (has_value_) {
      value_.~T();
    } else {
      error_.~E();
    }
  }

  bool has_value() const { return has_value_; }
  explicit operator bool() const { return has_value_; }
  T& value() & { return need(has_value_), value_; }
  const T& value() const& { return need(has_value_), value_; }
  T&& value() && { return need(has_value_), std::move(value_); }
  T& operator*() & { return value(); }
  const T& operator*() const& { return value(); }
  T&& operator*() && { return std::move(*this).value(); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }
  E& error() & { return need(!has_value_), error_; }
  const E& error() const& { return need(!has_value_), error_; }
  E&& error() && { return need(!has_value_), std::move(error_); }

private:
  static void need(bool ok) {
    if (!ok) {
      __builtin_trap();
    }
  }
  union {
    T value_;
    E error_;
  };
  bool has_value_;
};

template <class E>
class [[nodiscard]] Result<void, E> {
public:
  using value_type = void;
  using error_type = E;

  Result() = default;
  template <class G>
  Result(Unexpected<G> unexpected) : inner_(std::move(unexpected)) {}

  bool has_value() const { return inner_.has_value(); }
  explicit operator bool() const { return has_value(); }
  E& error() & { return inner_.error(); }
  const E& error() const& { return inner_.error(); }
  E&& error() && { return std::move(inner_).error(); }

private:
  struct Nothing {};
  Result<Nothing, E> inner_{Nothing{}};
};

} // namespace cardseal
