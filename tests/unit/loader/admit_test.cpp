#include "station_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

TEST_CASE("a good card is admitted, bare or partitioned, and gives image, settings and units") {
  for (const bool partitioned : {false, true}) {
    CardKit kit;
    kit.partitioned = partitioned;
    Bench bench(kit);
    const Outcome outcome = bench.admit();
    INFO(static_cast<int>(outcome.fault) << " item " << outcome.item << " at " << outcome.position);
    REQUIRE(outcome.ok());
    const loader::Job& job = bench.station->job();
    CHECK(job.manifest.supply_mv == 3300);
    CHECK(job.allotment.work_order.view() == "WO-0815");
    CHECK(bench.station->units_left() == 20);
    Bytes image;
    CHECK(stream(*bench.station, image).ok());
    CHECK(image == kit.image);
    CHECK(stream(*bench.station, image).ok()); // in every cycle
    CHECK(image == kit.image);
    unit::UnitText text;
    CHECK(bench.station->unit_text(1234, text).ok());
    CHECK(text.view() == "FN001234");
    unit::UnitBytes bytes;
    CHECK(bench.station->unit_bytes(1253, 0, bytes).ok());
    CHECK(text_of(bytes.view()) == "FN001253");
    CHECK(bench.station->unit_bytes(1254, 0, bytes).fault == Fault::allotment_capacity);
    CHECK(bench.station->unit_text(1233, text).fault == Fault::allotment_capacity);
  }
}
