using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class PlaceRulesTests
{
    private static readonly BatchTicketed Ticket = Good.The<BatchTicketed>();

    private static readonly string First = Ticket.Batch.Ticket;

    private static readonly SampleTested Sampled = Good.The<SampleTested>();

    private static DateTimeOffset Charged => Ticket.ChargedAt;

    private static UnitCase Change(Func<BatchTicketed, BatchTicketed> change, UnitCase? of = null) => (of ?? Good).Change<BatchTicketed>(t => t.Batch.Ticket == First ? change(t) : t);

    private static UnitCase Edition(UnitCase unit, string name, string value) => unit.Change<ProfilePublished>(p => p with { Editions = [new EditionChoice(name, value)] });

    [Fact]
    public void Charging_in_another_order_is_a_question()
    {
        var wanted = Good.Change<MixApproved>(m => m with { ChargingOrder = ["stone", "sand", "cement"] });
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.charging-order", First));
        Assert.Equal(Verdict.Missing, wanted.Verdict("place.charging-order", First));
        Assert.Equal(Verdict.Met, Change(t => t with { ChargingOrder = ["Stone", "sand", "cement"] }, wanted).Verdict("place.charging-order", First));
        Assert.Equal(Verdict.CannotTell, Change(t => t with { ChargingOrder = ["cement", "sand", "stone"] }, wanted).Verdict("place.charging-order", First));
        Assert.Equal(Verdict.Missing, Good.Without<MixApproved>().Verdict("place.charging-order", First));
    }

    [Fact]
    public void Every_addition_by_hand_is_a_question()
    {
        Assert.Equal(Verdict.Met, Good.Verdict("place.hand-additions", First));
        var added = Change(t => t with { HandAdditions = [new HandAddition("retarder", R("2"), "long haul")] });
        Assert.Equal(Verdict.CannotTell, added.Verdict("place.hand-additions", First));
        Assert.Contains("long haul", added.Finding("place.hand-additions", First).Reason, StringComparison.Ordinal);
    }

    private static UnitCase FieldWater(string limit, string? byTicket, params string[] added)
    {
        var unit = Change(t => t with { VolumeYd3 = R("3.0"), WaterAddedLaterLb = byTicket is null ? null : R(byTicket) }, Good.Limit("batch.field-water", limit));
        foreach (var lb in added) unit = unit.Add(new WaterAdded(Ticket.Batch, R(lb), "stiff"), Charged.AddMinutes(20));
        return unit;
    }

    [Theory]
    [InlineData("5.0", null, "15", Verdict.Met)]
    [InlineData("5.0", null, "16", Verdict.NotMet)]
    [InlineData("5", null, "16", Verdict.Met)]
    [InlineData("5.0", "9", "7", Verdict.NotMet)]
    [InlineData("0", null, "2", Verdict.NotMet)]
    public void Field_water_is_added_up_and_turns_at_its_limit(string limit, string? byTicket, string added, Verdict expected) =>
        Assert.Equal(expected, FieldWater(limit, byTicket, added).Verdict("place.field-water", First));

    [Fact]
    public void Field_water_is_asked_by_the_profile_and_none_is_none()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.field-water"));
        Assert.Equal(Verdict.Met, FieldWater("0", null).Verdict("place.field-water", First));
    }

    /// <summary>The batch of the oven-dry example: free water 47.50 lb, w/cm 0.3817.</summary>
    private static UnitCase Example(string max = "0.38") => Change(t => t with
    {
        MoistureBasis = MoistureBasis.Probe, WaterBatchedLb = R("222"), WaterAddedLaterLb = null,
        Ingredients =
        [
            new Weighed(Material.Cement, "cement", R("564"), R("566")), new Weighed(Material.SupplementaryCementitious, "slag", R("141"), R("140")),
            new Weighed(Material.FineAggregate, "sand", R("1304"), R("1310"), null, R("5.6"), R("1.2"), Storage: "BIN-1"), new Weighed(Material.CoarseAggregate, "stone", R("1773"), R("1775"), null, R("0.2"), R("0.6"), Storage: "BIN-2"),
        ],
    }).Change<MixApproved>(m => m with { MaxWcm = R(max) });

    private static string Balance => Good.Records.Select(r => r.Fact).OfType<InstrumentCalibrated>().First().Instrument;

    private static AggregateMoistureTested Tested(string bin, string wet, string dry, string? instrument = null) => new("M-" + bin, "storage:" + bin, Charged.AddMinutes(-20), R(wet), R(dry), [instrument ?? Balance]);

    private static UnitCase Both(string sandWet, string? instrument = null) => Example()
        .Add(Tested("BIN-1", sandWet, "500", instrument), Charged.AddHours(9), "p-107").Add(Tested("BIN-2", "501", "500"), Charged.AddHours(9), "p-107");

    [Fact]
    [OutsideCheck("w/cm 0.3817 as batched on the probe; sand dried in the laboratory at 5.6 % and at 6.6 % (533 g wet, 500 g dry), largest ratio 0.38", "0.3817 settled as met; 0.3984, not met", "ASTM C566, C127 and C128, oven-dry basis", SourceMark.Memory, Tolerance = "0.00005")]
    public void A_laboratory_test_of_the_day_settles_the_ratio_for_good_or_bad()
    {
        Assert.Equal(Verdict.Provisional, Example().Verdict("place.w-cm", First));
        Assert.Equal((Verdict.Met, "0.3817"), (Both("528").Verdict("place.w-cm", First), Both("528").Finding("place.w-cm", First).Observed));
        Assert.Equal((Verdict.NotMet, "0.3984"), (Both("533").Verdict("place.w-cm", First), Both("533").Finding("place.w-cm", First).Observed));
    }

    [Fact]
    public void A_test_of_one_aggregate_alone_or_of_another_day_leaves_the_ratio_provisional()
    {
        Assert.Equal(Verdict.Provisional, Example().Add(Tested("BIN-1", "528", "500"), Charged.AddHours(9), "p-107").Verdict("place.w-cm", First));
        Assert.Equal(Verdict.NotMet, Example().Add(Tested("BIN-1", "540", "500"), Charged.AddHours(9), "p-107").Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Provisional, Example().Add(Tested("BIN-1", "540", "500") with { SampledAt = Charged.AddDays(-1) }, Charged.AddHours(9), "p-107").Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Provisional, Example().Add(Tested("BIN-9", "540", "500"), Charged.AddHours(9), "p-107").Verdict("place.w-cm", First));
    }

    [Fact]
    public void A_doubtful_test_settles_nothing_and_a_bad_figure_of_it_is_not_dropped()
    {
        var good = Both("528", "BAL-NONE");
        Assert.Equal(Verdict.Provisional, good.Verdict("place.w-cm", First));
        Assert.Contains(good.Finding("place.w-cm", First).SetAside, s => s.Why.Contains("BAL-NONE", StringComparison.Ordinal));
        Assert.Equal(Verdict.NotMet, Both("533", "BAL-NONE").Verdict("place.w-cm", First));
        Assert.Contains("doubtful", Both("533", "BAL-NONE").Finding("place.w-cm", First).Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void The_last_sample_before_or_while_the_batch_was_charged_counts_and_a_later_one_is_of_what_came_later()
    {
        UnitCase Also(int minutes) => Both("528").Add(Tested("BIN-1", "533", "500") with { Test = "M-ALSO", SampledAt = Charged.AddMinutes(minutes) }, Charged.AddHours(9), "p-107");
        Assert.Equal(Verdict.Met, Also(-30).Verdict("place.w-cm", First));
        Assert.Equal(Verdict.NotMet, Also(-5).Verdict("place.w-cm", First));
        Assert.Equal(Verdict.NotMet, Also(15).Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Met, Also(16).Verdict("place.w-cm", First));
    }

    [Theory]
    [InlineData("2.3", Verdict.Provisional)]
    [InlineData("2.4", Verdict.NotMet)]
    public void Water_added_in_the_field_counts_in_the_ratio(string added, Verdict expected) =>
        Assert.Equal(expected, Example().Add(new WaterAdded(Ticket.Batch, R(added), "stiff"), Charged.AddMinutes(20)).Verdict("place.w-cm", First));

    [Fact]
    public void Moisture_from_the_laboratory_alone_is_enough()
    {
        var unit = Change(t => t with { Ingredients = [.. t.Ingredients.Select(i => i.Name is "sand" or "stone" ? i with { MoisturePct = null } : i)] }, Both("528"));
        Assert.Equal(Verdict.Met, unit.Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Missing, unit.Without<AggregateMoistureTested>().Verdict("place.w-cm", First));
    }

    [Theory]
    [InlineData("21a", "1.5", "231.7", Verdict.Met)]
    [InlineData("21a", "1.5", "231.8", Verdict.NotMet)]
    [InlineData("before-21a", "1", "231.0", Verdict.Met)]
    [InlineData("before-21a", "1", "231.2", Verdict.NotMet)]
    [OutsideCheck("Verdict on batch water of 228.3 lb by edition, aggregates with 47.3 lb of free water by design", "231.72 lb from C94-21a; 231.06 lb before", "ASTM C94/C94M, accuracy of batch water", SourceMark.Published, Tolerance = "0.05 lb")]
    public void The_edition_decides_what_batch_water_is_compared_with(string edition, string pct, string batched, Verdict expected)
    {
        var unit = Change(t => t with { WaterTargetLb = R("228.3"), WaterBatchedLb = R(batched) }, Example()).Limit("batch.water", pct);
        Assert.Equal(expected, Edition(unit, "astm-c94", edition).Verdict("place.batch-water", First));
    }

    [Fact]
    public void Before_that_edition_the_moisture_is_needed() =>
        Assert.Equal(Verdict.Missing, Edition(Change(t => t with { Ingredients = [.. t.Ingredients.Select(i => i with { MoisturePct = null })] }), "astm-c94", "before-21a").Verdict("place.batch-water", First));

    [Theory]
    [InlineData("60", Verdict.NotMet)]
    [InlineData("100", Verdict.Met)]
    [OutsideCheck("Discharge after 75 min where the contract leaves the time to the producer and the ticket states 60 and 100 min", "late, in time", "ASTM C94/C94M-21, 6.1.10", SourceMark.Published)]
    public void The_producers_time_counts_where_the_contract_leaves_it_to_the_producer(string minutes, Verdict expected)
    {
        var offset = TimeSpan.FromMilliseconds((double)(Good.RecordOf<PourPlaced>().Sent.ClockOffsetMs! - Good.RecordOf<BatchTicketed>().Sent.ClockOffsetMs!));
        var late = Good.Change<PourPlaced>(p => p with { FinishedAt = Charged.AddMinutes(75) + offset, Rows = [.. p.Rows.Where(r => r.Batch == Ticket.Batch)] }).Limit("discharge.minutes", _ => null);
        Assert.Equal(expected, Edition(Change(t => t with { DischargeLimitMin = R(minutes) }, late), "discharge-time", "producer").Verdict("place.discharge", First));
        Assert.Equal(Verdict.Missing, Change(t => t with { DischargeLimitMin = R(minutes) }, late).Verdict("place.discharge", First));
        Assert.Equal(Verdict.Missing, Edition(late, "discharge-time", "producer").Verdict("place.discharge", First));
    }

    private static readonly LotId Accelerator = new("admix-co", "CA-5");

    /// <summary>Cement 564, slag 141, an accelerator whose certificate states its chloride, in percent of its mass.</summary>
    private static UnitCase Accelerated(string limit, string pounds, string? pct, string cement = "564", string slag = "141")
    {
        var unit = Change(t => t with
        {
            Ingredients =
            [
                new Weighed(Material.Cement, "cement", R(cement), R(cement)), new Weighed(Material.SupplementaryCementitious, "slag", R(slag), R(slag)),
                new Weighed(Material.Admixture, "accelerator", R(pounds), R(pounds), Lot: Accelerator),
            ],
        }, Good.Limit("chloride.max", limit));
        return pct is null ? unit : unit.Add(Good.The<LotCertified>() with { Lot = Accelerator, CertificateNumber = "CA-5", Size = null, ChloridePct = R(pct) }, Charged.AddDays(-5));
    }

    // Flake of 77 % calcium chloride is 49.1953 % chloride, pellet of 94 % 60.0566 %.
    [Theory]
    [InlineData("7.05", "49.19", "1.00", Verdict.Met)]
    [InlineData("7.05", "49.19", "0.30", Verdict.NotMet)]
    [InlineData("7.05", "49.19", "0.15", Verdict.NotMet)]
    [InlineData("4.30", "49.19", "0.30", Verdict.Met)]
    [InlineData("4.40", "49.19", "0.30", Verdict.NotMet)]
    [OutsideCheck("Verdict on flake of 77 % at 1.0 % of 705 lb: 0.492 % chloride against 1.00, 0.30 and 0.15 %; dose at which 0.30 % turns", "met, not met, not met; 0.61 %", "ACI 318-19, Table 19.3.2.1", SourceMark.Published)]
    public void Chloride_turns_at_its_limit(string pounds, string pct, string limit, Verdict expected) => Assert.Equal(expected, Accelerated(limit, pounds, pct).Verdict("place.chloride", First));

    [Theory]
    [InlineData("19", "0.3504")]
    [InlineData("14", "0.7007")]
    [OutsideCheck("Verdict's figure with cement 300, slag 400, pellet 3.5 lb by edition of the basis", "0.350 % of cementitious with the cap, 0.701 % of cement", "ACI 318-19 and 318-14, Table 19.3.2.1", SourceMark.Memory, Tolerance = "0.0005 %")]
    public void The_edition_decides_the_basis_of_chloride(string edition, string pct)
    {
        var finding = Edition(Accelerated("0.30", "3.5", "60.06", "300", "400"), "aci-318", edition).Finding("place.chloride", First);
        Assert.StartsWith(pct, finding.Observed, StringComparison.Ordinal);
        Assert.Equal(Verdict.NotMet, finding.Verdict);
    }

    [Fact]
    public void Chloride_is_asked_by_the_profile_and_every_admixture_states_its_own()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.chloride"));
        Assert.Equal(Verdict.Missing, Accelerated("0.30", "3.5", null).Verdict("place.chloride", First));
        Assert.Equal(Verdict.Missing, Change(t => t with { HandAdditions = [new HandAddition("bagged accelerator", R("2"), "cold")] }, Accelerated("1.00", "1", "1")).Verdict("place.chloride", First));
        Assert.Equal(Verdict.NotMet, Change(t => t with { HandAdditions = [new HandAddition("bagged accelerator", R("2"), "cold", Accelerator)] }, Accelerated("0.15", "1", "49")).Verdict("place.chloride", First));
        Assert.Equal(Verdict.Missing, Accelerated("0.15", "1", "49", "0", "0").Verdict("place.chloride", First));
    }

    [Fact]
    public void Chloride_of_the_water_counts_where_it_was_tested()
    {
        var tank = Change(t => t with { WaterStorage = "TANK-1", WaterBatchedLb = R("250") }, Accelerated("0.15", "1", "0"));
        Assert.Equal(Verdict.Met, tank.Add(new WaterTested("TANK-1", "W-1", Ticket.Batch.Date.AddDays(-1), R("1000")), Charged.AddDays(-1)).Verdict("place.chloride", First));
        Assert.Equal(Verdict.NotMet, tank.Add(new WaterTested("TANK-1", "W-1", Ticket.Batch.Date.AddDays(-1), R("5000")), Charged.AddDays(-1)).Verdict("place.chloride", First));
        Assert.Equal(Verdict.Met, tank.Add(new WaterTested("TANK-1", "W-1", Ticket.Batch.Date.AddDays(1), R("5000")), Charged.AddDays(1)).Verdict("place.chloride", First));
    }

    [Theory]
    [InlineData("145.9", Verdict.Met)]
    [InlineData("146.0", Verdict.NotMet)]
    [InlineData("140.3", Verdict.Met)]
    [InlineData("140.2", Verdict.NotMet)]
    public void Density_turns_at_its_tolerance_of_the_mix(string density, Verdict expected) =>
        Assert.Equal(expected, Good.Limit("fresh.density", "2.0").Change<MixApproved>(m => m with { DensityLbFt3 = R("143.1") }).Change<SampleTested>(s => s with { DensityLbFt3 = R(density) }).Round(RoundingRule.Absolute).Verdict("place.density"));

    [Fact]
    public void Density_needs_the_mixs_and_the_readings()
    {
        var asked = Good.Limit("fresh.density", "2.0");
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.density"));
        Assert.Equal(Verdict.Missing, asked.Verdict("place.density"));
        Assert.Equal(Verdict.Missing, asked.Change<MixApproved>(m => m with { DensityLbFt3 = R("143") }).Change<SampleTested>(s => s with { DensityLbFt3 = null }).Verdict("place.density"));
    }

    private static UnitCase Yielding(string tolerance, string volume = "3.00") => Change(t => t with
    {
        VolumeYd3 = R(volume), WaterBatchedLb = R("810"), WaterAddedLaterLb = null,
        Ingredients = [new Weighed(Material.Cement, "cement", R("1692"), R("1692")), new Weighed(Material.SupplementaryCementitious, "slag", R("423"), R("423")), new Weighed(Material.FineAggregate, "sand", R("3750"), R("3750")), new Weighed(Material.CoarseAggregate, "stone", R("5340"), R("5340"))],
    }, Good.Limit("batch.yield", tolerance)).Change<SampleTested>(s => s with { DensityLbFt3 = R("143.72") });

    [Theory]
    [InlineData("4", Verdict.Met)]
    [InlineData("3", Verdict.Met)]
    [InlineData("3.0", Verdict.NotMet)]
    [OutsideCheck("12,015 lb at 143.72 lb/ft3, ticket of 3.00 yd3: relative yield 1.032 against +-3 and +-3.0 %", "met to whole percents, not met to tenths", "ASTM C138/C138M-17a and ASTM E29", SourceMark.Published)]
    public void Yield_turns_at_its_tolerance_at_the_limits_own_digits(string tolerance, Verdict expected)
    {
        Assert.Equal(expected, Yielding(tolerance).Verdict("place.yield"));
        Assert.Equal("relative yield 1.032", Yielding(tolerance).Finding("place.yield").Observed);
    }

    [Fact]
    public void Yield_counts_field_water_and_needs_density_and_ticket()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.yield"));
        Assert.Equal(Verdict.NotMet, Yielding("4").Add(new WaterAdded(Ticket.Batch, R("200"), "stiff"), Charged.AddMinutes(20)).Verdict("place.yield"));
        Assert.Equal(Verdict.Missing, Yielding("4").Change<SampleTested>(s => s with { DensityLbFt3 = null }).Verdict("place.yield"));
        Assert.Equal(Verdict.Missing, Yielding("4").Without<BatchTicketed>(t => t.Batch == Ticket.Batch).Verdict("place.yield"));
    }

    [Theory]
    [InlineData(30, Verdict.Met)]
    [InlineData(30.1, Verdict.NotMet)]
    public void An_interruption_turns_at_its_limit(double minutes, Verdict expected)
    {
        var pour = Good.The<PourPlaced>();
        var stopped = new PourInterrupted(pour.Pour, pour.StartedAt.AddMinutes(5), pour.StartedAt.AddMinutes(5 + minutes), "pump blocked");
        Assert.Equal(expected, Good.Limit("pour.interruption.minutes", "30").Add(stopped, pour.FinishedAt).Verdict("place.interruption"));
        Assert.Equal(Verdict.Met, Good.Limit("pour.interruption.minutes", "30").Add(stopped with { Units = ["RF-0900"] }, pour.FinishedAt).Verdict("place.interruption"));
        Assert.Equal(Verdict.NotApplicable, Good.Add(stopped, pour.FinishedAt).Verdict("place.interruption"));
        Assert.Equal(Verdict.Met, Good.Limit("pour.interruption.minutes", "30").Verdict("place.interruption"));
    }

    private static LoadRejected Rejection => new(Ticket.Batch, "slump flow out of limits", "washed out");

    [Fact]
    public void Rejected_concrete_in_the_unit_stands_and_its_sample_proves_nothing()
    {
        Assert.All(Good.Findings("place.rejected-concrete").Concat(Good.Findings("place.sampled-load")), f => Assert.Equal(Verdict.Met, f.Verdict));
        var rejected = Good.Add(Rejection, Charged.AddMinutes(30), "p-107");
        Assert.Equal(Verdict.NotMet, rejected.Verdict("place.rejected-concrete", First));
        Assert.Contains("3 yd3", rejected.Finding("place.rejected-concrete", First).Reason, StringComparison.Ordinal);
        Assert.Equal(Verdict.NotMet, rejected.Verdict("place.sampled-load"));
        Assert.Equal(Verdict.Missing, rejected.Verdict("place.represented", First));
        Assert.Equal(Verdict.NotMet, rejected.Add(new LoadAccepted(Ticket.Batch), Charged.AddMinutes(31), "p-107").Verdict("place.rejected-concrete", First));
    }

    [Fact]
    public void A_rejected_load_that_is_not_in_the_unit_does_not_concern_it() =>
        Assert.All(Good.Add(Rejection with { Batch = Ticket.Batch with { Ticket = "ELSEWHERE" } }, Charged).Findings("place.rejected-concrete"), f => Assert.Equal(Verdict.Met, f.Verdict));

    private static UnitCase FirstOut => Good.Change<SampleTested>(s => s with { AirGaugePct = R("9.0") });

    private static SampleTested Again(string gauge) => Sampled with { Sample = "SM-AGAIN", AirGaugePct = R(gauge), Cylinders = [], RetestOf = Sampled.Sample, SampledAt = Sampled.SampledAt.AddMinutes(3) };

    [Fact]
    [OutsideCheck("Air of a first load out of limits, another portion of the same load inside; and outside again", "fixed; not met", "ASTM C94/C94M, check test at once", SourceMark.Memory)]
    public void One_good_retest_of_the_same_load_fixes_a_first_result_that_is_out()
    {
        Assert.Equal(Verdict.NotMet, FirstOut.Verdict("place.air"));
        var retested = FirstOut.Add(Again("6.4"), Sampled.MouldedAt, "p-107");
        Assert.Equal((Verdict.Met, Verdict.Met), (retested.Verdict("place.air", Sampled.Sample), retested.Verdict("place.air", "SM-AGAIN")));
        Assert.Contains("SM-AGAIN", retested.Finding("place.air", Sampled.Sample).Reason, StringComparison.Ordinal);
        var failed = FirstOut.Add(Again("9.1"), Sampled.MouldedAt, "p-107");
        Assert.Equal((Verdict.NotMet, Verdict.NotMet), (failed.Verdict("place.air", Sampled.Sample), failed.Verdict("place.air", "SM-AGAIN")));
    }

    [Fact]
    public void A_retest_by_nobody_certified_or_of_another_load_fixes_nothing_nor_does_one_of_two()
    {
        Assert.Equal(Verdict.NotMet, FirstOut.Add(Again("6.4"), Sampled.MouldedAt, "p-112").Verdict("place.air", Sampled.Sample));
        Assert.Equal(Verdict.NotMet, FirstOut.Add(Again("6.4") with { Batch = Good.Records.Select(r => r.Fact).OfType<BatchTicketed>().Last().Batch }, Sampled.MouldedAt, "p-107").Verdict("place.air", Sampled.Sample));
        Assert.Equal(Verdict.NotMet, FirstOut.Add(Again("6.4"), Sampled.MouldedAt, "p-107").Add(Again("9.2") with { Sample = "SM-THIRD" }, Sampled.MouldedAt, "p-107").Verdict("place.air", Sampled.Sample));
    }

    [Fact]
    public void The_first_load_is_tested_where_the_profile_asks_it()
    {
        var asked = Good.Limit("sampling.first-load", "1");
        Assert.Equal((Verdict.NotApplicable, Verdict.Met), (Good.Verdict("place.first-load"), asked.Verdict("place.first-load")));
        var second = Good.Records.Select(r => r.Fact).OfType<BatchTicketed>().First(t => t.Batch != Ticket.Batch).Batch;
        Assert.Equal(Verdict.Missing, asked.Change<SampleTested>(s => s with { Batch = second }).Verdict("place.first-load"));
        Assert.Equal(Verdict.Missing, asked.By<SampleTested>("p-112").Verdict("place.first-load"));
        Assert.Equal(Verdict.Missing, asked.Without<BatchTicketed>(t => t.Batch == second).Verdict("place.first-load"));
    }

    private static UnitCase Conventional(string target, string slump) => Good.Change<MixApproved>(m => m with { TargetFlowIn = null, TargetSlumpIn = R(target) }).Change<SampleTested>(s => s with { FlowIn = null, StabilityIndex = null, SlumpIn = R(slump) });

    [Theory]
    [InlineData("2", "2 1/2", Verdict.Met)]
    [InlineData("2", "2 3/4", Verdict.NotMet)]
    [InlineData("4", "5", Verdict.Met)]
    [InlineData("4", "5 1/4", Verdict.NotMet)]
    [InlineData("4", "2 3/4", Verdict.NotMet)]
    [InlineData("6", "7 1/2", Verdict.Met)]
    [InlineData("6", "7 3/4", Verdict.NotMet)]
    [OutsideCheck("Verdict on slump at targets of 2, 4 and 6 in", "+-1/2, +-1, +-1 1/2 in", "ASTM C94/C94M, tolerances in slump", SourceMark.Memory)]
    public void Slump_turns_at_the_tolerance_of_its_size(string target, string slump, Verdict expected) => Assert.Equal(expected, Conventional(target, slump).Verdict("place.slump"));

    [Fact]
    public void Slump_is_for_conventional_concrete_and_has_to_be_read()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.slump"));
        Assert.Equal(Verdict.Missing, Conventional("4", "4").Change<SampleTested>(s => s with { SlumpIn = null }).Verdict("place.slump"));
        Assert.Equal(Verdict.Missing, Conventional("4", "4").Limit("fresh.slump.middle", _ => null).Verdict("place.slump"));
    }

    private static UnitCase Scc(string key, string limit, Func<SampleTested, SampleTested> change) => Good.Limit(key, limit).Change(change);

    [Fact]
    [OutsideCheck("Verdicts: flow 26.5 in with J-ring 25.0 and 24.0 in against 2 in; column 5.10 above and 5.60 lb below against 10 %; 5 and 5.1 s to 20 in against 5 s", "met, not met; 9.3 % met; met, not met", "ASTM C1621/C1621M and C1611/C1611M; ACI 237R", SourceMark.Memory)]
    public void Passing_ability_segregation_and_viscosity_turn_at_their_limits()
    {
        UnitCase Ring(string ring) => Scc("fresh.j-ring", "2.0", s => s with { FlowIn = [R("26"), R("27")], JRingFlowIn = R(ring) });
        Assert.Equal((Verdict.Met, Verdict.Met, Verdict.NotMet), (Ring("25.0").Verdict("place.self-consolidating"), Ring("24.5").Verdict("place.self-consolidating"), Ring("24.0").Verdict("place.self-consolidating")));
        UnitCase Column(string limit) => Scc("fresh.column", limit, s => s with { ColumnTopLb = R("5.10"), ColumnBottomLb = R("5.60") });
        Assert.Equal((Verdict.Met, Verdict.NotMet), (Column("10").Verdict("place.self-consolidating"), Column("9.2").Verdict("place.self-consolidating")));
        Assert.Equal((Verdict.Met, Verdict.NotMet), (Scc("fresh.t50.max", "5.0", s => s with { T50S = R("5.0") }).Verdict("place.self-consolidating"), Scc("fresh.t50.max", "5.0", s => s with { T50S = R("5.1") }).Verdict("place.self-consolidating")));
        Assert.Equal((Verdict.Met, Verdict.NotMet), (Scc("fresh.t50.min", "2.0", s => s with { T50S = R("2.0") }).Verdict("place.self-consolidating"), Scc("fresh.t50.min", "2.0", s => s with { T50S = R("1.9") }).Verdict("place.self-consolidating")));
    }

    [Fact]
    public void What_was_not_read_is_missing_where_it_is_asked()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.self-consolidating"));
        Assert.Equal(Verdict.Missing, Good.Limit("fresh.j-ring", "2.0").Verdict("place.self-consolidating"));
        Assert.Equal(Verdict.NotApplicable, Conventional("4", "4").Limit("fresh.j-ring", "2.0").Verdict("place.self-consolidating"));
    }

    private static UnitCase Clocked(int composite, int tests) => Good.Limit("sampling.composite.minutes", "15").Limit("sampling.tests.minutes", "5")
        .Change<SampleTested>(s => s with { FirstPortionAt = s.SampledAt, LastPortionAt = s.SampledAt.AddSeconds(composite), TestsStartedAt = s.SampledAt.AddSeconds(composite + tests) });

    [Theory]
    [InlineData(900, 300, Verdict.Met, Verdict.Met)]
    [InlineData(930, 301, Verdict.NotMet, Verdict.NotMet)]
    [InlineData(0, -1, Verdict.Met, Verdict.CannotTell)]
    [OutsideCheck("Verdicts on sampling: portions 15:00 and 15:30 apart, tests begun 5:00 and 5:01 after the last", "met, not met; met, not met", "ASTM C172/C172M", SourceMark.Memory)]
    public void Sampling_turns_at_its_clocks(int composite, int tests, Verdict portions, Verdict started)
    {
        Assert.Equal(portions, Clocked(composite, tests).Verdict("place.sampled-in-time", "first portion to last portion"));
        Assert.Equal(started, Clocked(composite, tests).Verdict("place.sampled-in-time", "start of the tests"));
    }

    [Fact]
    public void Times_nobody_recorded_are_missing_where_they_are_asked()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.sampled-in-time"));
        Assert.All(Good.Limit("sampling.composite.minutes", "15").Findings("place.sampled-in-time"), f => Assert.Equal(Verdict.Missing, f.Verdict));
    }

    private static UnitCase Windy(string concrete, string air, string humidity, string wind) => Good.Limit("weather.evaporation", "0.20").Limit("weather.air-min", "40").Change<SampleTested>(s => s with { TemperatureF = R(concrete) })
        .Add(new WeatherRead([Unit], R(air), false, R(humidity), R(wind)), Good.The<PourPlaced>().StartedAt);

    [Theory]
    [InlineData("80", "80", "50", "10", Verdict.Met, Verdict.Met)]
    [InlineData("90", "80", "40", "12", Verdict.NotMet, Verdict.Met)]
    [InlineData("70", "39", "100", "5", Verdict.Met, Verdict.NotMet)]
    [OutsideCheck("Verdicts on evaporation of 0.1431 and 0.3129 lb/ft2/h against 0.20", "met, not met", "Uno, ACI Materials Journal 95-M34, 1998; federal guide specification UFGS 03300N", SourceMark.Published)]
    public void Weather_is_judged_by_evaporation_and_cold(string concrete, string air, string humidity, string wind, Verdict evaporation, Verdict cold)
    {
        Assert.Equal(evaporation, Windy(concrete, air, humidity, wind).Verdict("place.weather", "evaporation"));
        Assert.Equal(cold, Windy(concrete, air, humidity, wind).Verdict("place.weather", " air at"));
    }

    [Fact]
    public void Weather_that_nobody_read_is_missing_where_it_is_asked()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.weather"));
        Assert.Equal(Verdict.Missing, Good.Limit("weather.evaporation", "0.20").Verdict("place.weather"));
        Assert.Equal(Verdict.Missing, Windy("80", "80", "50", "10").Change<WeatherRead>(w => w with { WindMph = null }).Verdict("place.weather", "evaporation"));
        Assert.Equal(Verdict.Missing, Windy("80", "80", "50", "10").Move<WeatherRead>(TimeSpan.FromDays(1)).Verdict("place.weather"));
    }

    [Fact]
    public void What_moved_in_the_form_and_was_not_put_back_stands()
    {
        var at = Good.The<PourPlaced>().StartedAt.AddMinutes(10);
        Assert.Equal(Verdict.Met, Good.Verdict("place.nothing-displaced"));
        Assert.Equal(Verdict.Met, Good.Add(new DisplacementSeen(Unit, Displaced.Insert, true, "pushed back"), at).Verdict("place.nothing-displaced"));
        Assert.Equal(Verdict.NotMet, Good.Add(new DisplacementSeen(Unit, Displaced.Cage, false, "floated", R("1 1/2")), at).Verdict("place.nothing-displaced"));
        Assert.Equal(Verdict.NotMet, Good.Add(new PourChecked(Good.The<PourPlaced>().Pour, Unit, false, true), at).Verdict("place.nothing-displaced"));
        Assert.Equal(Verdict.Met, Good.Add(new DisplacementSeen("RF-0900", Displaced.Cage, false, "floated"), at).Verdict("place.nothing-displaced"));
    }

    [Fact]
    public void Loads_are_accepted_where_the_profile_asks_it()
    {
        var asked = Good.Limit("load.accepted", "1");
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.loads-accepted"));
        Assert.Equal(Verdict.Missing, asked.Verdict("place.loads-accepted", First));
        Assert.Equal(Verdict.Met, asked.Add(new LoadAccepted(Ticket.Batch), Charged.AddMinutes(8), "p-107").Verdict("place.loads-accepted", First));
    }

    private static PlantApproved Approval(ApprovalStatus status, int from = -100, int through = 100) => new(Ticket.Batch.Plant, "Invented agency", "precast", status, Ticket.Batch.Date.AddDays(from), Ticket.Batch.Date.AddDays(through), "letter 9");

    [Theory]
    [InlineData(ApprovalStatus.Approved, Verdict.Met)]
    [InlineData(ApprovalStatus.Conditional, Verdict.CannotTell)]
    [InlineData(ApprovalStatus.Probationary, Verdict.CannotTell)]
    [InlineData(ApprovalStatus.Withdrawn, Verdict.NotMet)]
    public void The_plant_is_approved_on_the_day_where_the_profile_asks_it(ApprovalStatus status, Verdict expected)
    {
        var asked = Good.Limit("plant.approved", "1");
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.plant-approval"));
        Assert.Equal(Verdict.Missing, asked.Verdict("place.plant-approval", First));
        Assert.Equal(expected, asked.Add(Approval(status), Charged.AddDays(-90)).Verdict("place.plant-approval", First));
        Assert.Equal(Verdict.Missing, asked.Add(Approval(status, through: -1), Charged.AddDays(-90)).Verdict("place.plant-approval", First));
        Assert.Equal(status == ApprovalStatus.Approved ? Verdict.Met : expected, asked.Add(Approval(ApprovalStatus.Approved), Charged.AddDays(-90)).Add(Approval(status), Charged.AddDays(-80)).Verdict("place.plant-approval", First));
    }

    [Fact]
    public void Sources_are_approved_on_the_day_where_the_profile_asks_it()
    {
        var asked = Good.Limit("source.approved", "1");
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.sources-approved"));
        var cement = Ticket.Ingredients.First(i => i.Material == Material.Cement);
        var approval = new SourceApproved(cement.Lot!.Producer, Material.Cement, Ticket.Batch.Date.AddDays(-50), Ticket.Batch.Date, "list of sources");
        Assert.Equal(Verdict.Missing, asked.Verdict("place.sources-approved", $"{First}/{Date} {cement.Name}"));
        Assert.Equal(Verdict.Met, asked.Add(approval, Charged.AddDays(-40)).Verdict("place.sources-approved", $"{First}/{Date} {cement.Name}"));
        Assert.Equal(Verdict.Missing, asked.Add(approval with { ValidThrough = Ticket.Batch.Date.AddDays(-1) }, Charged.AddDays(-40)).Verdict("place.sources-approved", $"{First}/{Date} {cement.Name}"));
        Assert.Equal(Verdict.Missing, asked.Add(approval with { Material = Material.FineAggregate }, Charged.AddDays(-40)).Verdict("place.sources-approved", $"{First}/{Date} {cement.Name}"));
    }

    private static string Date => Ticket.Batch.Date.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture);

    [Theory]
    [InlineData("8032", Verdict.Met)]
    [InlineData("8032.1", Verdict.NotMet)]
    [InlineData("7968", Verdict.Met)]
    [OutsideCheck("Verdict on a scale of 10,000 lb loaded with 8,000 lb", "+-32 lb", "ASTM C94/C94M, the larger of 0.15 % of capacity and 0.4 % of the load", SourceMark.Memory)]
    public void A_scale_turns_at_its_accuracy(string indicated, Verdict expected)
    {
        var scale = Ticket.Instruments![0];
        var asked = Good.Limit("scale.accuracy.capacity", "0.15").Limit("scale.accuracy.load", "0.4");
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.scales-checked"));
        Assert.Equal(Verdict.Missing, asked.Verdict("place.scales-checked", First));
        var check = new ScaleChecked(scale, Ticket.Batch.Date.AddDays(-20), R("10000"), [new ScalePoint(R("2000"), R("2000")), new ScalePoint(R("8000"), R(indicated))]);
        Assert.Equal(expected, asked.Add(check, Charged.AddDays(-20)).Verdict("place.scales-checked", First));
        Assert.Equal(Verdict.Missing, asked.Add(check with { CheckedOn = Ticket.Batch.Date.AddDays(1) }, Charged.AddDays(1)).Verdict("place.scales-checked", First));
    }

    [Fact]
    public void A_quarantined_ingredient_holds_and_one_that_only_may_be_in_the_silo_leaves_a_question()
    {
        var cement = Ticket.Ingredients.First(i => i.Material == Material.Cement).Lot!;
        Assert.All(Good.Findings("place.not-quarantined"), f => Assert.Equal(Verdict.Met, f.Verdict));
        Assert.Equal(Verdict.NotMet, Good.Add(new LotQuarantined(cement, "false set"), Charged.AddDays(1)).Verdict("place.not-quarantined", $"{First}/{Date} "));
        var silo = Change(t => t with { Ingredients = [.. t.Ingredients.Select(i => i.Material == Material.Cement ? i with { Lot = null, Storage = "SILO-1" } : i)] }).Add(new StorageFilled("SILO-1", new LotId("mill-c", "C9"), Material.Cement), Charged.AddDays(-2));
        Assert.Equal(Verdict.CannotTell, silo.Add(new LotQuarantined(new LotId("mill-c", "C9"), "false set"), Charged.AddDays(1)).Verdict("place.not-quarantined", "C9"));
    }
}
