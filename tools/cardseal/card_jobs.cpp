#include "card_jobs.h"

#include <algorithm>

#include <fmt/format.h>

#include "job/release_xml.h"

namespace cardseal::tool {
namespace {

constexpr std::size_t most_packages = format::CardIndex{}.packages.capacity();

// Which of the stated values is job `job`'s; none were stated: nothing.
template <class T>
Try<std::optional<T>> value_of(const std::vector<T>& stated, std::size_t job, std::size_t jobs,
                               const char* option) {
  if (stated.empty()) {
    return std::optional<T>();
  }
  if (stated.size() != 1 && stated.size() != jobs) {
    return Unexpected(usage_error(
        fmt::format("{} is stated once for all packages, or once for each, in their order", option),
        fmt::format("{} times", stated.size()),
        jobs == 1 ? std::string("once") : fmt::format("once, or {} times", jobs)));
  }
  return std::optional<T>(stated.size() == 1 ? stated.front() : stated[job]);
}

bool has_date_code(const package::Package& package) {
  const auto parts = package.manifest.parts.view();
  return std::any_of(parts.begin(), parts.end(), [](const format::Part& part) {
    return part.kind == format::PartKind::date_code;
  });
}

// Of several packages some may have none.
Try<void> check_date_code(const CardMakeOptions& options,
                          const std::vector<package::Package>& packages) {
  if (options.date_code.empty() || packages.size() == 1 ||
      std::any_of(packages.begin(), packages.end(), has_date_code)) {
    return {};
  }
  return Unexpected(usage_error("no serial of these packages has a date code", options.date_code,
                                "no --date-code"));
}

Try<card::SetJob> to_job(const CardMakeOptions& options, const Owner& owner,
                         const std::vector<package::Package>& packages, std::size_t index) {
  TRY(units, value_of(options.units, index, packages.size(), "--units"));
  TRY(slots, value_of(options.slots, index, packages.size(), "--slots"));
  std::uint32_t enabled_slots = 0;
  if (slots && !job::parse_slots(*slots, enabled_slots)) {
    return Unexpected(usage_error("the slots are not in their form", *slots, "like 1-3,5"));
  }
  format::Maybe<format::Text<16>> stated;
  if (!options.date_code.empty() && (packages.size() == 1 || has_date_code(packages[index]))) {
    TRY(date_code, to_text<16>(options.date_code, "the date code"));
    stated.set(date_code);
  }
  TRY(judged, package::Judged::of(packages[index], owner.root, owner.trust.list));
  return card::SetJob{judged, units.value_or(1), enabled_slots, stated};
}

} // namespace

Try<std::vector<package::Package>> read_card_packages(const CardMakeOptions& options) {
  if (options.packages.size() > most_packages) {
    return Unexpected(usage_error("a card's index holds fewer packages",
                                  fmt::format("{} packages", options.packages.size()),
                                  fmt::format("at most {}", most_packages)));
  }
  std::vector<package::Package> packages;
  for (const std::string& file : options.packages) {
    TRY(package, package::read(io::real_system(), file));
    packages.push_back(std::move(package));
  }
  return packages;
}

Try<std::vector<card::SetJob>> to_jobs(const CardMakeOptions& options, const Owner& owner,
                                       const std::vector<package::Package>& packages) {
  TRY_VOID(check_date_code(options, packages));
  std::vector<card::SetJob> jobs;
  for (std::size_t i = 0; i < packages.size(); ++i) {
    TRY(job, to_job(options, owner, packages, i));
    jobs.push_back(job);
  }
  return jobs;
}

void print_plan(const fat32::VolumePlan& plan) {
  say(fmt::format("volume    {} sectors, {} clusters of {} bytes, {} free",
                  plan.shape.image_sectors, plan.shape.cluster_count, plan.shape.cluster_bytes(),
                  plan.free_clusters()));
  for (const fat32::PlannedFile& file : plan.files) {
    say(fmt::format("  {:<20} {:>9} bytes  sector {}", file.short_path, file.size,
                    file.extent.first_lba));
  }
}

} // namespace cardseal::tool
