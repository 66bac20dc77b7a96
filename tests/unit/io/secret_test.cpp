#include "io/secret.h"

#include <array>
#include <fstream>

#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include "io/clock.h"
#include "support/catch.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::io;
using cardseal::test::TempFolder;

namespace {

Try<Secret> from_text(const std::string& text) {
  const TempFolder folder;
  std::ofstream(folder / "phrase", std::ios::binary) << text;
  return read_secret(real_system(), {folder / "phrase", {}}, "", false);
}

// A pipe that already holds `text` and then ends.
class Pipe {
public:
  explicit Pipe(const std::string& text) {
    REQUIRE(::pipe(ends_.data()) == 0);
    REQUIRE(::write(ends_[1], text.data(), text.size()) == static_cast<ssize_t>(text.size()));
    ::close(ends_[1]);
  }
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  ~Pipe() { ::close(ends_[0]); }
  int reading() const { return ends_[0]; }

private:
  std::array<int, 2> ends_{};
};

// What a person saw on a terminal of their own, and the exit code of the program on it.
struct Session {
  std::string seen;
  int exit_code = -1;
};

void read_until(int terminal, std::string& seen, const std::string& wanted) {
  const std::size_t from = seen.size();
  std::array<char, 256> part{};
  while (seen.find(wanted, from) == std::string::npos) {
    pollfd ready{terminal, POLLIN, 0};
    if (::poll(&ready, 1, 5000) != 1) {
      return;
    }
    const ssize_t got = ::read(terminal, part.data(), part.size());
    if (got <= 0) {
      return;
    }
    seen.append(part.data(), static_cast<std::size_t>(got));
  }
}

struct Typed {
  std::string after; // wait until this is shown
  std::string keys;
};

// Runs `program` in a child that has a pseudo-terminal (pty(7)) as its controlling terminal.
template <class Program>
Session on_a_terminal(Program program, const std::vector<Typed>& typing) {
  int terminal = -1;
  const pid_t child = ::forkpty(&terminal, nullptr, nullptr, nullptr);
  REQUIRE(child >= 0);
  if (child == 0) {
    ::_exit(program());
  }
  Session session;
  for (const Typed& typed : typing) {
    read_until(terminal, session.seen, typed.after);
    REQUIRE(::write(terminal, typed.keys.data(), typed.keys.size()) ==
            static_cast<ssize_t>(typed.keys.size()));
  }
  read_until(terminal, session.seen, "never shown, so until the end");
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  session.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : 256 + WTERMSIG(status);
  ::close(terminal);
  return session;
}

bool echo_is_on() {
  termios now_set{};
  return ::tcgetattr(STDIN_FILENO, &now_set) == 0 && (now_set.c_lflag & ECHO) != 0;
}

// Exit codes of the programs below; 0 is never one by accident.
constexpr int as_hoped = 10;
constexpr int otherwise = 11;
constexpr int echo_stayed_off = 12;

auto expecting(const std::string& phrase, bool twice) {
  return [=] {
    const Try<Secret> secret = read_secret(real_system(), {}, "passphrase: ", twice);
    if (!echo_is_on()) {
      return echo_stayed_off;
    }
    return secret && secret->view() == phrase ? as_hoped : otherwise;
  };
}

auto expecting_error(const std::string& code, bool twice) {
  return [=] {
    const Try<Secret> secret = read_secret(real_system(), {}, "passphrase: ", twice);
    if (!echo_is_on()) {
      return echo_stayed_off;
    }
    return !secret && secret.error().code == code ? as_hoped : otherwise;
  };
}

} // namespace

TEST_CASE("a passphrase is the first line of its file without the line end") {
  for (const char* text : {"frost on the buds", "frost on the buds\n", "frost on the buds\r\n",
                           "frost on the buds\nsecond line\n"}) {
    const Try<Secret> secret = from_text(text);
    REQUIRE(secret);
    CHECK(secret->view() == "frost on the buds");
  }
  CHECK(from_text(" spaces stay ")->view() == " spaces stay ");
}

TEST_CASE("an empty passphrase is refused wherever it comes from") {
  for (const char* text : {"", "\n", "\r\n", "\nsecond line\n"}) {
    const Try<Secret> secret = from_text(text);
    REQUIRE_FALSE(secret);
    CHECK(secret.error().code == "passphrase-empty");
  }
  const Pipe pipe("\n");
  const Try<Secret> secret = read_secret(real_system(), {{}, pipe.reading()}, "", false);
  REQUIRE_FALSE(secret);
  CHECK(secret.error().code == "passphrase-empty");
}

TEST_CASE("two passphrases can follow each other on one descriptor") {
  const Pipe pipe("first\nsecond\n");
  const SecretSource source{{}, pipe.reading()};
  const Try<Secret> first = read_secret(real_system(), source, "", false);
  REQUIRE(first);
  CHECK(first->view() == "first");
  const Try<Secret> second = read_secret(real_system(), source, "", false);
  REQUIRE(second);
  CHECK(second->view() == "second");
}

TEST_CASE("a passphrase file that is missing or endless is refused") {
  const TempFolder folder;
  const Try<Secret> missing = read_secret(real_system(), {folder / "none", {}}, "", false);
  REQUIRE_FALSE(missing);
  CHECK(missing.error().kind == ErrorKind::no_input);
  CHECK(from_text(std::string(1024, 'p')));
  const Try<Secret> endless = read_secret(real_system(), {Path("/dev/zero"), {}}, "", false);
  REQUIRE_FALSE(endless);
  CHECK(endless.error().code == "line-too-long");
  const Try<Secret> closed = read_secret(real_system(), {{}, 987}, "", false);
  REQUIRE_FALSE(closed);
  CHECK(closed.error().kind == ErrorKind::io);
}

TEST_CASE("a secret that moved away leaves nothing behind") {
  for (const std::size_t size : {std::size_t{8}, std::size_t{200}}) {
    Secret from(std::string(size, 's'));
    Secret to(std::move(from));
    CHECK(from.empty()); // NOLINT(bugprone-use-after-move): that is what is tested
    CHECK(to.view() == std::string(size, 's'));
    Secret other;
    other = std::move(to);
    CHECK(to.empty()); // NOLINT(bugprone-use-after-move)
    CHECK(other.view().size() == size);
  }
}

TEST_CASE("a passphrase typed on a terminal is not shown") {
  const Session session =
      on_a_terminal(expecting("orchard gate", false), {{"passphrase: ", "orchard gate\n"}});
  CHECK(session.exit_code == as_hoped);
  CHECK_THAT(session.seen, ContainsSubstring("passphrase: "));
  CHECK_THAT(session.seen, !ContainsSubstring("orchard"));
}

TEST_CASE("a new passphrase is asked for twice and must be the same") {
  const Session same = on_a_terminal(expecting("apple", true),
                                     {{"passphrase: ", "apple\n"}, {"again: ", "apple\n"}});
  CHECK(same.exit_code == as_hoped);
  const Session differs = on_a_terminal(expecting_error("passphrase-differs", true),
                                        {{"passphrase: ", "apple\n"}, {"again: ", "appel\n"}});
  CHECK(differs.exit_code == as_hoped);
  const Session empty =
      on_a_terminal(expecting_error("passphrase-empty", true), {{"passphrase: ", "\n"}});
  CHECK(empty.exit_code == as_hoped);
}

TEST_CASE("the interrupt key at the prompt cancels and leaves the echo on") {
  const Session session =
      on_a_terminal(expecting_error("cancelled", false), {{"passphrase: ", "app\x03"}});
  CHECK(session.exit_code == as_hoped);
}

TEST_CASE("without a terminal there is no passphrase and the error says what to do") {
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    ::setsid(); // no controlling terminal from here on
    const Try<Secret> secret = read_secret(real_system(), {}, "passphrase: ", false);
    const bool right = !secret && secret.error().code == "passphrase-none" &&
                       secret.error().kind == ErrorKind::no_input &&
                       secret.error().hint.find("file") != std::string::npos;
    ::_exit(right ? as_hoped : otherwise);
  }
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  CHECK(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == as_hoped);
}

TEST_CASE("a question on a terminal is shown and its answer echoed") {
  const auto program = [] {
    const Try<std::string> answer = ask(real_system(), "name of the release: ");
    return answer && *answer == "frost-node B" ? as_hoped : otherwise;
  };
  const Session session = on_a_terminal(program, {{"name of the release: ", "frost-node B\n"}});
  CHECK(session.exit_code == as_hoped);
  CHECK_THAT(session.seen, ContainsSubstring("frost-node B"));
}

TEST_CASE("a question off a terminal reads one line of standard input and shows nothing") {
  const Pipe pipe("yes\nno\n");
  const int before = ::dup(STDIN_FILENO);
  ::dup2(pipe.reading(), STDIN_FILENO);
  const Try<std::string> first = ask(real_system(), "sure? ");
  const Try<std::string> second = ask(real_system(), "sure? ");
  const Try<std::string> third = ask(real_system(), "sure? ");
  ::dup2(before, STDIN_FILENO);
  ::close(before);
  REQUIRE(first);
  CHECK(*first == "yes");
  REQUIRE(second);
  CHECK(*second == "no");
  REQUIRE_FALSE(third);
  CHECK(third.error().code == "no-answer");
}

TEST_CASE("the clock gives a real date and the kernel different bytes each time") {
  CHECK(is_real_date(now()));
  CHECK(now().year >= 2024);
  std::array<std::uint8_t, 32> first{};
  std::array<std::uint8_t, 32> second{};
  REQUIRE(fill_random(first));
  REQUIRE(fill_random(second));
  CHECK(first != second);
}
