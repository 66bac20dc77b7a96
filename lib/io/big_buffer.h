// A growing array for images and other things of any size. What grows is never set to zero first,
// room that stays unused is never touched, large arrays move without being copied (realloc of the
// C library) and ask for huge pages: filling 64 MiB then costs 32 page faults and not 16,384.
//
// Throws std::bad_alloc when there is no memory, like a vector.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <span>
#include <type_traits>
#include <utility>

namespace cardseal::io {

// `bytes` bytes in the place of `old` (null: none yet), with its content.
void* resize_memory(void* old, std::size_t bytes);
void free_memory(void* memory);

template <class T>
class BigBuffer {
  static_assert(std::is_trivially_copyable_v<T>);

public:
  BigBuffer() = default;
  BigBuffer(const BigBuffer& other) { append(other.view()); }
  BigBuffer(BigBuffer&& other) noexcept { swap(other); }
  BigBuffer& operator=(BigBuffer other) noexcept {
    swap(other);
    return *this;
  }
  ~BigBuffer() { free_memory(data_); }

  bool empty() const { return size_ == 0; }
  std::size_t size() const { return size_; }
  T* data() { return data_; }
  const T* data() const { return data_; }
  T& back() { return data_[size_ - 1]; }
  const T& back() const { return data_[size_ - 1]; }
  std::span<T> view() { return {data_, size_}; }
  std::span<const T> view() const { return {data_, size_}; }

  void reserve(std::size_t count) {
    if (count > capacity_) {
      data_ = static_cast<T*>(resize_memory(data_, count * sizeof(T)));
      capacity_ = count;
    }
  }
  // `count` more values, for the caller to write at once.
  T* extend(std::size_t count) {
    if (count > capacity_ - size_) {
      reserve(size_ + (count > size_ ? count : size_) + first_room);
    }
    T* const added = data_ + size_;
    size_ += count;
    return added;
  }
  void push_back(const T& value) {
    const T kept = value; // it may lie in here
    *extend(1) = kept;
  }
  // Where the next `count` values will be, for the caller to write before they are appended.
  T* room(std::size_t count) {
    const std::size_t size = size_;
    T* const next = extend(count);
    size_ = size;
    return next;
  }
  // `values` lie elsewhere, or at the start of room() for as many.
  void append(std::span<const T> values) {
    T* const to = extend(values.size());
    if (!values.empty() && values.data() != to) {
      std::memcpy(to, values.data(), values.size_bytes());
    }
  }
  void shorten(std::size_t size) { size_ = size < size_ ? size : size_; }

private:
  static constexpr std::size_t first_room = 64;

  void swap(BigBuffer& other) noexcept {
    std::swap(data_, other.data_);
    std::swap(size_, other.size_);
    std::swap(capacity_, other.capacity_);
  }

  T* data_ = nullptr;
  std::size_t size_ = 0;
  std::size_t capacity_ = 0;
};

} // namespace cardseal::io
