// What the checker of FAT32 volumes can find, one rule a kind of fault. Sections in brackets are
// those of the Microsoft FAT Specification (2005).
#pragma once

#include <span>

#include "diag/finding.h"

namespace cardseal::fat32::rules {

// the volume itself
inline constexpr Rule no_volume = refusing("fat32-no-volume", "no FAT32 volume on the card");
inline constexpr Rule past_end = refusing("fat32-past-end", "volume is larger than its place");
inline constexpr Rule too_large = refusing("fat32-too-large", "volume is too large to check");
// boot sector [3]
inline constexpr Rule boot_field = refusing("fat32-boot-field", "boot sector field is not legal");
inline constexpr Rule jump = refusing("fat32-jump", "boot sector has no jump");
inline constexpr Rule version = refusing("fat32-version", "version is not 0");
inline constexpr Rule type_text = refusing("fat32-type-text", "boot sector lacks the words FAT32");
inline constexpr Rule both_totals = refusing("fat32-both-totals", "both sector totals are set");
inline constexpr Rule mirroring = refusing("fat32-mirroring", "mirroring of the FATs is off");
inline constexpr Rule few_clusters = refusing("fat32-few-clusters", "too few clusters for FAT32");
inline constexpr Rule near_border =
    warning("fat32-near-border", "cluster count is close to the border of FAT16");
inline constexpr Rule hidden_sectors =
    warning("fat32-hidden-sectors", "hidden sectors are not the partition's start");
inline constexpr Rule backup_boot =
    refusing("fat32-backup-boot", "copy of the boot sector differs");
// FSInfo [5]
inline constexpr Rule fsinfo = refusing("fat32-fsinfo", "FSInfo does not tell the truth");
// the FATs [4]
inline constexpr Rule fat_small = refusing("fat32-fat-small", "FAT is too small for its clusters");
inline constexpr Rule fats_differ = refusing("fat32-fats-differ", "the two FATs differ");
inline constexpr Rule media_entry =
    refusing("fat32-media-entry", "first FAT entry does not match the media byte");
inline constexpr Rule dirty = warning("fat32-dirty", "volume was not closed cleanly");
inline constexpr Rule top_nibble =
    refusing("fat32-top-nibble", "top four bits of an entry are set");
inline constexpr Rule lost_clusters =
    warning("fat32-lost-clusters", "clusters in use belong to nothing");
inline constexpr Rule bad_clusters = {"fat32-bad-clusters", Severity::note, false,
                                      "clusters are marked bad"};
// chains
inline constexpr Rule cross_link = refusing("fat32-cross-link", "two chains share a cluster");
inline constexpr Rule loop = refusing("fat32-loop", "chain runs into itself");
inline constexpr Rule chain_broken = refusing("fat32-chain-broken", "chain leads nowhere");
inline constexpr Rule chain_short = refusing("fat32-chain-short", "chain is shorter than the file");
inline constexpr Rule chain_long = refusing("fat32-chain-long", "chain is longer than the file");
// directories [6, 7]
inline constexpr Rule dot = refusing("fat32-dot", "`.` is missing or wrong");
inline constexpr Rule dotdot = refusing("fat32-dotdot", "`..` is missing or wrong");
inline constexpr Rule after_end = refusing("fat32-after-end", "entry stands after the end entry");
inline constexpr Rule long_checksum =
    refusing("fat32-long-checksum", "long name does not belong to its short name");
inline constexpr Rule long_orphan =
    refusing("fat32-long-orphan", "long-name entries are not a whole name");
inline constexpr Rule name = refusing("fat32-name", "name is not legal");
inline constexpr Rule duplicate = refusing("fat32-duplicate", "two names are the same");
inline constexpr Rule label = warning("fat32-label", "volume label is not the same everywhere");
inline constexpr Rule folder_size = warning("fat32-folder-size", "folder has a size");
inline constexpr Rule time = warning("fat32-time", "time of writing is no real time");
inline constexpr Rule too_deep = refusing("fat32-too-deep", "folders are nested too deep");
inline constexpr Rule too_many = refusing("fat32-too-many", "too many names to check");

inline constexpr const Rule* all[] = {
    &no_volume,   &past_end,      &too_large,    &boot_field,   &jump,        &version,
    &type_text,   &both_totals,   &mirroring,    &few_clusters, &near_border, &hidden_sectors,
    &backup_boot, &fsinfo,        &fat_small,    &fats_differ,  &media_entry, &dirty,
    &top_nibble,  &lost_clusters, &bad_clusters, &cross_link,   &loop,        &chain_broken,
    &chain_short, &chain_long,    &dot,          &dotdot,       &after_end,   &long_checksum,
    &long_orphan, &name,          &duplicate,    &label,        &folder_size, &time,
    &too_deep,    &too_many};

// The faults after which the bytes of a file, or which file a name means, are open to doubt.
inline constexpr const Rule* stop_reading[] = {
    &no_volume,    &past_end,   &too_large,   &boot_field, &version,  &mirroring,
    &few_clusters, &fat_small,  &fats_differ, &cross_link, &loop,     &chain_broken,
    &chain_short,  &chain_long, &name,        &duplicate,  &too_deep, &too_many};

} // namespace cardseal::fat32::rules
