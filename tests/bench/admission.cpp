// What a station's admission of a card costs, over images of growing size: time beside SHA-256 of
// the image and the signature checks by themselves, and memory: the loader's own, and how deep its
// stack goes. One line a size:
//   image bytes, admission us, SHA-256 us, signature checks us, the median of admission over twice
//   SHA-256 and the checks, loader's memory, stack of admission and of one cycle's image
//   admission ROUNDS BYTES...
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <memory>

#include <pthread.h>
#include <time.h>

#include "crypto/table.h"
#include "loader/run_log.h"
#include "support/card_kit.h"

// One bench for tests and this program.
#include "unit/loader/station_kit.h"

using namespace cardseal;

namespace {

// Of processor time, so that other work on the machine counts little.
double now_us() {
  timespec now{};
  (void)clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return 1e6 * static_cast<double>(now.tv_sec) + 1e-3 * static_cast<double>(now.tv_nsec);
}

double median(std::vector<double> times) {
  std::sort(times.begin(), times.end());
  return times[times.size() / 2];
}

// The whole card as plain bytes, so that reading costs a copy and nothing else.
struct FlatCard {
  test::Bytes bytes;
  static bool read(void* context, std::uint32_t lba, ByteSpan out) {
    const auto& self = *static_cast<const FlatCard*>(context);
    std::memcpy(out.data(), self.bytes.data() + std::size_t{lba} * 512, out.size());
    return true;
  }
};

// The station's memory, likewise.
loader::StateStorage plain_memory(test::SlotStore& store) {
  const auto read = [](void* context, unsigned slot, std::uint32_t offset, ByteSpan out) {
    const auto& self = *static_cast<const test::SlotStore*>(context);
    std::memcpy(out.data(), self.slots.at(slot).data() + offset, out.size());
    return true;
  };
  loader::StateStorage out = store.storage();
  out.read = read;
  return out;
}

// Botan's table, with the time that signatures take.
struct TimedCrypto {
  crypto::BotanContext botan;
  trust::CryptoTable inner = crypto::botan_table(botan);
  double signatures_us = 0;

  trust::CryptoTable table() {
    trust::CryptoTable out = inner;
    out.context = this;
    out.sha256_start = [](void* c) { self(c).inner.sha256_start(self(c).inner.context); };
    out.sha256_add = [](void* c, const std::uint8_t* bytes, std::size_t size) {
      self(c).inner.sha256_add(self(c).inner.context, bytes, size);
    };
    out.sha256_finish = [](void* c, std::uint8_t* digest) {
      self(c).inner.sha256_finish(self(c).inner.context, digest);
    };
    out.ed25519_verify = [](void* c, const std::uint8_t* key, const std::uint8_t* head,
                            std::size_t head_size, const std::uint8_t* body, std::size_t body_size,
                            const std::uint8_t* signature) {
      const double start = now_us();
      const bool good = self(c).inner.ed25519_verify(self(c).inner.context, key, head, head_size,
                                                     body, body_size, signature);
      self(c).signatures_us += now_us() - start;
      return good;
    };
    return out;
  }
  static TimedCrypto& self(void* context) { return *static_cast<TimedCrypto*>(context); }
};

void must(const Outcome& outcome, const char* what) {
  if (!outcome.ok()) {
    std::fprintf(stderr, "%s: reason %d\n", what, static_cast<int>(outcome.fault));
    std::exit(1);
  }
}

// Crypto that needs no stack worth speaking of, so that the loader's own depth is seen: digests and
// verdicts are the real ones, found beforehand by a first run and played back.
class Playback {
public:
  trust::CryptoTable recording(TimedCrypto& real) {
    real_ = real.inner;
    trust::CryptoTable out;
    out.context = this;
    out.sha256_start = [](void* c) { self(c).real_.sha256_start(self(c).real_.context); };
    out.sha256_add = [](void* c, const std::uint8_t* bytes, std::size_t size) {
      self(c).real_.sha256_add(self(c).real_.context, bytes, size);
    };
    out.sha256_finish = [](void* c, std::uint8_t* digest) {
      self(c).real_.sha256_finish(self(c).real_.context, digest);
      format::Digest kept{};
      std::copy_n(digest, kept.size(), kept.begin());
      self(c).digests_.push_back(kept);
    };
    out.ed25519_verify = [](void* c, const std::uint8_t* key, const std::uint8_t* head,
                            std::size_t head_size, const std::uint8_t* body, std::size_t body_size,
                            const std::uint8_t* signature) {
      const bool good = self(c).real_.ed25519_verify(self(c).real_.context, key, head, head_size,
                                                     body, body_size, signature);
      self(c).verdicts_.push_back(good);
      return good;
    };
    return out;
  }
  trust::CryptoTable playing() {
    trust::CryptoTable out = recording_none();
    out.sha256_finish = [](void* c, std::uint8_t* digest) {
      const format::Digest& kept = self(c).digests_.at(self(c).next_++);
      std::copy(kept.begin(), kept.end(), digest);
    };
    return out;
  }
  void rewind() { next_ = next_verdict_ = 0; }

private:
  trust::CryptoTable recording_none() {
    trust::CryptoTable out;
    out.context = this;
    out.sha256_start = [](void*) {};
    out.sha256_add = [](void*, const std::uint8_t*, std::size_t) {};
    out.ed25519_verify = [](void* c, const std::uint8_t*, const std::uint8_t*, std::size_t,
                            const std::uint8_t*, std::size_t, const std::uint8_t*) {
      return self(c).verdicts_[self(c).next_verdict_++] != 0;
    };
    return out;
  }
  static Playback& self(void* context) { return *static_cast<Playback*>(context); }

  trust::CryptoTable real_;
  std::vector<format::Digest> digests_;
  std::vector<char> verdicts_; // of signatures
  std::size_t next_ = 0, next_verdict_ = 0;
};

// How much of a fresh stack `work` touches. What calling it costs is measured with an empty one.
template <class Work>
std::size_t touched(Work& work) {
  constexpr std::size_t size = 1 << 20;
  constexpr std::uint8_t paint = 0xA5;
  const std::unique_ptr<std::uint8_t, decltype(&std::free)> stack(
      static_cast<std::uint8_t*>(std::aligned_alloc(4096, size)), std::free);
  std::fill_n(stack.get(), size, paint);
  pthread_attr_t attributes;
  pthread_t thread{};
  const auto run = [](void* context) -> void* {
    (*static_cast<Work*>(context))();
    return nullptr;
  };
  if (pthread_attr_init(&attributes) != 0 ||
      pthread_attr_setstack(&attributes, stack.get(), size) != 0 ||
      pthread_create(&thread, &attributes, run, &work) != 0) {
    std::exit(1);
  }
  (void)pthread_join(thread, nullptr);
  (void)pthread_attr_destroy(&attributes);
  return size -
         static_cast<std::size_t>(std::find_if(stack.get(), stack.get() + size,
                                               [](std::uint8_t byte) { return byte != paint; }) -
                                  stack.get());
}

template <class Work>
std::size_t depth_of(Work work) {
  auto nothing = [] {};
  return touched(work) - std::min(touched(work), touched(nothing));
}

Outcome one_cycle(loader::Station& station) {
  Outcome outcome = station.start_image();
  ByteView block;
  do {
    outcome = outcome.ok() ? station.next_block(block) : outcome;
  } while (outcome.ok() && !block.empty());
  return outcome;
}

struct Times {
  std::vector<double> admission, hashing, signatures, shares;
};

Times times_of(const loader::SectorReader& reader, const loader::StateStorage& memory,
               loader::Arena& arena, const test::Bytes& image, int rounds) {
  TimedCrypto timed;
  const trust::CryptoTable table = timed.table();
  Times out;
  for (int round = 0; round < rounds; ++round) {
    loader::Station station(arena, reader, memory, table);
    timed.signatures_us = 0;
    double start = now_us();
    must(station.admit(), "admission");
    out.admission.push_back(now_us() - start);
    out.signatures.push_back(timed.signatures_us);
    start = now_us();
    (void)test::digest_of(image);
    out.hashing.push_back(now_us() - start);
    out.shares.push_back(out.admission.back() / (2 * out.hashing.back() + out.signatures.back()));
  }
  return out;
}

std::size_t stack_of(const loader::SectorReader& reader, const loader::StateStorage& memory,
                     loader::Arena& arena) {
  TimedCrypto real;
  Playback playback;
  const trust::CryptoTable recording = playback.recording(real);
  loader::Station first(arena, reader, memory, recording);
  must(first.admit(), "recorded admission");
  must(one_cycle(first), "recorded image");
  const trust::CryptoTable playing = playback.playing();
  loader::Station station(arena, reader, memory, playing);
  return depth_of([&] {
    playback.rewind();
    must(station.admit(), "played admission");
    must(one_cycle(station), "played image");
  });
}

void measure(std::uint32_t size, int rounds) {
  test::CardKit kit;
  kit.image.resize(size);
  for (std::size_t i = 0; i < kit.image.size(); ++i) {
    kit.image[i] = static_cast<std::uint8_t>(i * 7 + i / 256);
  }
  kit.manifest.segments = {};
  kit.manifest.segments.add({0, size});
  test::Bench bench(kit);
  FlatCard flat;
  flat.bytes.resize(std::size_t{bench.card.plan.shape.image_sectors} * 512);
  if (!bench.card.sectors->read(0, flat.bytes)) {
    std::exit(1);
  }
  const loader::SectorReader reader{&flat, FlatCard::read, bench.card.plan.shape.image_sectors};
  const loader::StateStorage memory = plain_memory(bench.store);
  const auto arena = std::make_unique<loader::Arena>();
  const Times times = times_of(reader, memory, *arena, kit.image, rounds);
  const std::size_t stack = stack_of(reader, memory, *arena);
  std::printf("%u %.0f %.0f %.0f %.2f %zu %zu\n", size, median(times.admission),
              median(times.hashing), median(times.signatures), median(times.shares),
              sizeof(loader::Arena) + sizeof(loader::Station), stack);
}

} // namespace

int main(int argc, char** argv) {
  if (argc < 3) {
    std::fprintf(stderr, "admission ROUNDS BYTES...\n");
    return 64;
  }
  for (int i = 2; i < argc; ++i) {
    measure(static_cast<std::uint32_t>(std::strtoul(argv[i], nullptr, 10)), std::atoi(argv[1]));
  }
  return 0;
}
