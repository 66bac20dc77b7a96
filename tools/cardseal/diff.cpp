#include "commands.h"
#include "common.h"

#include "compare/differences.h"
#include "crypto/sha256.h"
#include "diff_print.h"
#include "image_words.h"
#include "package/whole.h"
#include "release.h"
#include "view/compare_json.h"

namespace cardseal::tool {
namespace {

struct Compared {
  compare::Side side;
  std::vector<image::NamedRange> regions; // of an authored release's device
};

Try<Compared> opened(io::Bytes bytes, const std::string& file) {
  TRY(package, package::open(std::move(bytes), file));
  TRY_VOID(package::check_whole(package));
  TRY(image, package::image_of(package));
  return Compared{{std::move(package), std::move(image), true}, {}};
}

Try<Compared> read_sealed(const std::string& file) {
  TRY(bytes, io::read_file(io::real_system(), file, package::max_package));
  return opened(std::move(bytes), file);
}

// As `pack` would seal it for this owner, also where a finding refuses that: what is wrong with it
// may be what somebody wants to see.
Try<Compared> read_authored(const std::string& file, const format::Digest& owner, bool json) {
  TRY(release, compile_release(file, owner, json));
  Try<io::Bytes> bytes =
      package::build(release.manifest, release.facts, release.image, std::move(release.documents));
  if (!bytes) {
    bytes.error().place.file = file;
    return Unexpected(std::move(bytes).error());
  }
  TRY(read, opened(std::move(*bytes), file));
  read.side.sealed = false;
  read.regions = std::move(release.regions);
  if (release.findings.refused()) {
    note(escaped(file) + " can't be packed as it stands (cardseal check says why)");
  }
  return std::move(read);
}

// An authored release states no owner: it is taken to be for the owner of `other`.
Try<Compared> read_either(const std::string& file, const compare::Side* other, bool json) {
  if (!is_authored(file)) {
    return read_sealed(file);
  }
  const format::Digest owner = other != nullptr ? other->package.manifest.owner : format::Digest{};
  return read_authored(file, owner, json);
}

Error follows_none(const std::string& file) {
  return at(error_of(ErrorKind::bad_data, "diff-no-previous",
                     "this release names no package that it follows", "no <changes>",
                     "<changes since=\"FILE\" ...>",
                     "name the release to compare it with as second"),
            file);
}

// The file that <changes> names, which must be the package that the release says it follows.
Try<Compared> read_previous(const std::string& file, bool json) {
  if (!is_authored(file)) {
    return Unexpected(usage_error("a package does not say where the one before it is", file,
                                  "two releases, or one release.xml"));
  }
  xml::All<job::ReleaseFile> release = xml::read_as(io::real_system(), file, job::read_release);
  if (!release) {
    return Unexpected(report(release.error(), json));
  }
  if (!release->changes) {
    return Unexpected(follows_none(file));
  }
  const io::Path before = io::Path(file).parent_path() / release->changes->package;
  TRY(read, read_sealed(before.string()));
  const format::Digest& found = read.side.package.manifest_digest;
  if (found != *release->previous) {
    return Unexpected(
        at(error_of(ErrorKind::bad_data, "diff-other-previous",
                    "this is not the package that the release follows", crypto::spell_digest(found),
                    crypto::spell_digest(*release->previous),
                    "name both files to compare them all the same"),
           before.string()));
  }
  return std::move(read);
}

Ran report_on(const Compared& first, const Compared& second, const DiffOptions& options) {
  TRY(regions, to_named(options.region, "the region"));
  if (regions.empty()) {
    regions = second.side.sealed ? first.regions : second.regions;
  }
  TRY(report, compare::compare(first.side, second.side, regions));
  if (options.json) {
    say(view::json_of(first.side, second.side, report));
  } else {
    print(first.side, second.side, report);
    note(report.signoffs_compared ? "who may sign was not looked at (cardseal verify does)"
                                  : "an authored release has no sign-offs, so none were compared");
  }
  return report.differences.empty() ? 0 : 1;
}

} // namespace

Ran run_diff(const DiffOptions& options) {
  const bool one = options.second.empty();
  const std::string& second_file = one ? options.first : options.second;
  if (!one && is_authored(options.first) && !is_authored(second_file)) {
    TRY(second, read_sealed(second_file));
    TRY(first, read_authored(options.first, second.side.package.manifest.owner, options.json));
    return report_on(first, second, options);
  }
  TRY(first, one ? read_previous(options.first, options.json)
                 : read_either(options.first, nullptr, options.json));
  TRY(second, read_either(second_file, &first.side, options.json));
  return report_on(first, second, options);
}

} // namespace cardseal::tool
