using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class PlaceTests
{
    private static readonly string First = Good.The<BatchTicketed>().Batch.Ticket;

    private static UnitCase Ticket(Func<BatchTicketed, BatchTicketed> change) => Good.Change<BatchTicketed>(t => t.Batch.Ticket == First ? change(t) : t);

    private static UnitCase Weigh(Material material, Func<Weighed, Weighed> change) =>
        Ticket(t => t with { Ingredients = [.. t.Ingredients.Select(i => i.Material == material ? change(i) : i)] });

    private static UnitCase Sample(Func<SampleTested, SampleTested> change) => Good.Change(change);

    [Theory]
    [InlineData("2115", "2140", "4000", Verdict.NotMet)]
    [InlineData("2115", "2094", "4000", Verdict.Met)]
    [InlineData("705", "720", "4000", Verdict.Met)]
    [InlineData("705", "701", "4000", Verdict.NotMet)]
    [InlineData("2000", "2020", "4000", Verdict.Met)]
    [InlineData("2000", "2020.1", "4000", Verdict.NotMet)]
    [InlineData("1200", "1187.9", "4000", Verdict.NotMet)]
    [InlineData("1199", "1246.96", "4000", Verdict.Met)]
    [InlineData("1199", "1246.97", "4000", Verdict.NotMet)]
    [InlineData("2115", "2115", null, Verdict.Missing)]
    [OutsideCheck("Verdict on cementitious: 2,115 lb with 2,140 and 2,094; 705 lb with 720 and 701, scale 4,000 lb", "not met, met, met, not met", "ASTM C94/C94M", SourceMark.Memory)]
    public void Cementitious_weights_turn_exactly_at_their_tolerance(string target, string batched, string? capacity, Verdict expected) =>
        Assert.Equal(expected, Weigh(Material.Cement, w => w with { TargetLb = R(target), BatchedLb = R(batched), ScaleCapacityLb = capacity is null ? null : R(capacity) }).Verdict("place.batch-weights", First + "/" + Date + " cement"));

    private static string Date => Good.The<BatchTicketed>().Batch.Date.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture);

    [Theory]
    [InlineData("3060", Verdict.Met)]
    [InlineData("3060.1", Verdict.NotMet)]
    [InlineData("2940", Verdict.Met)]
    [InlineData("2939.9", Verdict.NotMet)]
    [OutsideCheck("Aggregate of 3,000 lb, individual weighing", "2,940 to 3,060 lb", "ASTM C94/C94M, +-2 %", SourceMark.Memory)]
    public void Aggregate_weights_turn_at_two_percent(string batched, Verdict expected) =>
        Assert.Equal(expected, Weigh(Material.FineAggregate, w => w with { TargetLb = R("3000"), BatchedLb = R(batched) }).Verdict("place.batch-weights", $"{First}/{Date} sand"));

    [Fact]
    public void Something_that_is_no_ingredient_cannot_be_judged() =>
        Assert.Equal(Verdict.CannotTell, Weigh(Material.Cement, w => w with { Material = Material.Bar }).Verdict("place.batch-weights", $"{First}/{Date} cement"));

    [Theory]
    [InlineData("231.7", Verdict.Met)]
    [InlineData("231.8", Verdict.NotMet)]
    [InlineData("224.9", Verdict.Met)]
    [InlineData("224.8", Verdict.NotMet)]
    [OutsideCheck("Verdict on batch water, 228.3 lb target: 231.7 and 231.8 lb", "met, not met", "ASTM C94/C94M-21a", SourceMark.Published)]
    public void Batch_water_turns_at_its_tolerance(string batched, Verdict expected) =>
        Assert.Equal(expected, Ticket(t => t with { WaterTargetLb = R("228.3"), WaterBatchedLb = R(batched) }).Verdict("place.batch-water", First));

    private static UnitCase Water(MoistureBasis basis, string water, string? added = null) => Ticket(t => t with
    {
        MoistureBasis = basis,
        WaterBatchedLb = R(water),
        WaterAddedLaterLb = added is null ? null : R(added),
        Ingredients =
        [
            new Weighed(Material.Cement, "cement", R("564"), R("566")), new Weighed(Material.SupplementaryCementitious, "slag", R("141"), R("140")),
            new Weighed(Material.FineAggregate, "sand", R("1304"), R("1310"), null, R("5.6"), R("1.2")), new Weighed(Material.CoarseAggregate, "stone", R("1773"), R("1775"), null, R("0.2"), R("0.6")),
        ],
    }).Change<MixApproved>(m => m with { MaxWcm = R("0.38") });

    [Theory]
    [InlineData(MoistureBasis.Probe, "222", null, Verdict.Provisional)]
    [InlineData(MoistureBasis.Laboratory, "222", null, Verdict.Met)]
    [InlineData(MoistureBasis.Probe, "222", "3", Verdict.NotMet)]
    [InlineData(MoistureBasis.Laboratory, "224.3", null, Verdict.Met)]
    [InlineData(MoistureBasis.Laboratory, "224.4", null, Verdict.NotMet)]
    [OutsideCheck("Verdict on w/cm 0.3817 against 0.38, to two decimals", "provisional on probe moisture, met on laboratory moisture", "ASTM C127, C128 and C566; ASTM E29", SourceMark.Memory)]
    public void Water_to_cementitious_is_provisional_on_the_probe(MoistureBasis basis, string water, string? added, Verdict expected) =>
        Assert.Equal(expected, Water(basis, water, added).Verdict("place.w-cm", First));

    [Fact]
    public void The_approval_in_force_on_the_day_of_the_batch_states_the_ratio()
    {
        var mix = Good.The<MixApproved>();
        var batch = Good.The<BatchTicketed>();
        UnitCase Stricter(int days) => Water(MoistureBasis.Laboratory, "222").Add(mix with { MaxWcm = R("0.35"), ApprovedOn = batch.Batch.Date.AddDays(days) }, batch.ChargedAt.AddDays(-20));
        Assert.Equal(Verdict.NotMet, Stricter(0).Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Met, Stricter(1).Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Missing, Good.Change<MixApproved>(m => m with { ValidThrough = batch.Batch.Date.AddDays(-1) }).Verdict("place.w-cm", First));
    }

    [Fact]
    public void The_ratio_is_printed_to_four_digits_and_missing_without_moisture()
    {
        Assert.Equal("0.3817", Water(MoistureBasis.Probe, "222").Finding("place.w-cm", First).Observed);
        Assert.Equal(Verdict.Missing, Weigh(Material.FineAggregate, w => w with { MoisturePct = null }).Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Missing, Weigh(Material.CoarseAggregate, w => w with { AbsorptionPct = null }).Verdict("place.w-cm", First));
        Assert.Equal(Verdict.Missing, Good.Without<MixApproved>().Verdict("place.w-cm", First));
    }

    [Theory]
    [InlineData(89.8, Verdict.Met)]
    [InlineData(90.0, Verdict.CannotTell)]
    [InlineData(90.2, Verdict.NotMet)]
    [OutsideCheck("Discharge 89.8, 90.0 and 90.2 min after first contact of water and cement, clocks sure to 2 s each", "met, cannot tell, not met", "ASTM C94/C94M before C94-21, 10.7: 1 1/2 h", SourceMark.Published)]
    public void Discharge_turns_at_ninety_minutes_within_what_the_clocks_can_tell(double minutes, Verdict expected)
    {
        var batch = Good.The<BatchTicketed>().Batch;
        var offset = TimeSpan.FromMilliseconds((double)(Good.RecordOf<PourPlaced>().Sent.ClockOffsetMs! - Good.RecordOf<BatchTicketed>().Sent.ClockOffsetMs!));
        var finished = Good.The<BatchTicketed>().ChargedAt.AddMinutes(minutes) + offset;
        var alone = Good.Change<PourPlaced>(p => p with { FinishedAt = finished, Rows = [.. p.Rows.Where(r => r.Batch == batch)] });
        Assert.Equal(expected, alone.Verdict("place.discharge", First));
    }

    [Fact]
    public void A_late_placement_of_several_batches_does_not_say_which_was_late() =>
        Assert.Equal(Verdict.CannotTell, Good.Change<PourPlaced>(p => p with { FinishedAt = p.FinishedAt.AddHours(2) }).Verdict("place.discharge", First));

    [Fact]
    public void A_contract_without_a_discharge_time_has_no_verdict_on_it() =>
        Assert.Equal(Verdict.Missing, Good.Limit("discharge.minutes", _ => null).Verdict("place.discharge", First));

    [Theory]
    [InlineData("50", Verdict.Met)]
    [InlineData("49", Verdict.NotMet)]
    [InlineData("95", Verdict.Met)]
    [InlineData("96", Verdict.NotMet)]
    [OutsideCheck("Least temperature of concrete as placed, sections 12 to 36 in", "50 F", "ACI 306R", SourceMark.Published)]
    public void Temperature_turns_at_its_limits(string temperature, Verdict expected) =>
        Assert.Equal(expected, Sample(s => s with { TemperatureF = R(temperature) }).Verdict("place.temperature"));

    [Theory]
    [InlineData("26", "26.0", "27.5", Verdict.Met)]
    [InlineData("24.5", "26.0", "27.5", Verdict.Met)]
    [InlineData("24.4", "26.0", "27.5", Verdict.NotMet)]
    [InlineData("22", "23.5", "23.5", Verdict.Met)]
    [InlineData("22", "24", "24", Verdict.NotMet)]
    [InlineData("26", "24.0", "26.5", Verdict.Missing)]
    [InlineData("26", "24.5", "26.5", Verdict.Met)]
    [OutsideCheck("Slump flow diameters 24.0 and 26.5 in", "invalid: more than 2 in apart", "ASTM C1611/C1611M", SourceMark.Memory)]
    [OutsideCheck("Slump flow tolerance at targets of 22 in and of more", "+-1 1/2 and +-2 1/2 in", "ASTM C94/C94M", SourceMark.Memory)]
    public void Slump_flow_turns_at_its_tolerance_and_needs_two_diameters_that_agree(string target, string first, string second, Verdict expected)
    {
        var finding = Sample(s => s with { FlowIn = [R(first), R(second)] }).Change<MixApproved>(m => m with { TargetFlowIn = R(target) }).Finding("place.flow");
        Assert.Equal(expected, finding.Verdict);
        Assert.Equal(expected == Verdict.Missing, finding.SetAside.Count > 0);
    }

    [Theory]
    [InlineData(0, Verdict.Met)]
    [InlineData(1, Verdict.Met)]
    [InlineData(2, Verdict.NotMet)]
    [InlineData(3, Verdict.NotMet)]
    [OutsideCheck("Visual stability index", "0 and 1 accepted", "ASTM C1611/C1611M", SourceMark.Published)]
    public void Stability_turns_after_one(int index, Verdict expected) => Assert.Equal(expected, Sample(s => s with { StabilityIndex = index }).Verdict("place.stability"));

    [Theory]
    [InlineData("6.0", "7.3", "0.4", Verdict.Met)]
    [InlineData("6.0", "8.1", "0.4", Verdict.NotMet)]
    [InlineData("6.0", "7.9", "0.4", Verdict.Met)]
    [InlineData("6.0", "4.9", "0.4", Verdict.Met)]
    [InlineData("6.0", "4.8", "0.4", Verdict.NotMet)]
    [InlineData("5.0", "6.9", "0.4", Verdict.Met)]
    [InlineData("5.0", "7.0", "0.4", Verdict.NotMet)]
    [OutsideCheck("Air, target 6.0 %: gauge 7.3 and 8.1 %, correction 0.4 %", "6.9 % met, 7.7 % not met; 4.5 to 7.5 % accepted", "ACI 318, air for freezing exposure, +-1.5 %", SourceMark.Published)]
    [OutsideCheck("Air, target 5.0 % where strength is above 5,000 psi", "3.5 to 6.5 % accepted", "ACI 318-19, 19.3.3", SourceMark.Memory)]
    public void Air_turns_at_its_tolerance(string target, string gauge, string correction, Verdict expected) =>
        Assert.Equal(expected, Sample(s => s with { AirGaugePct = R(gauge), AggregateCorrectionPct = R(correction) }).Change<MixApproved>(m => m with { TargetAirPct = R(target) }).Verdict("place.air"));

    [Theory]
    [InlineData("2026-06-14", Verdict.Met)]
    [InlineData("2026-06-15", Verdict.NotMet)]
    [InlineData("2026-06-16", Verdict.NotMet)]
    [OutsideCheck("Certificate issued 2021-06-15 for five years, stated through 2026-06-14: tests on 2026-06-14, -15 and -16", "valid, rejected, rejected", "certification programme of the American Concrete Institute, five years", SourceMark.Published)]
    public void The_tester_is_certified_through_the_day_the_certificate_states(string test, Verdict expected)
    {
        var shift = DateOnly.Parse(test, System.Globalization.CultureInfo.InvariantCulture).DayNumber - DateOnly.FromDateTime(Good.RecordOf<SampleTested>().Sent.Time.DateTime).DayNumber;
        var judged = Good.Move<SampleTested>(TimeSpan.FromDays(shift))
            .Change<PersonCertified>(c => c.Person == "p-107" ? c with { IssuedOn = new(2021, 6, 15), ValidThrough = new(2026, 6, 14) } : c);
        Assert.Equal(expected, judged.Verdict("place.tester"));
    }

    [Theory]
    [InlineData(15, 0, Verdict.Met)]
    [InlineData(15, 30, Verdict.NotMet)]
    [InlineData(-1, 0, Verdict.CannotTell)]
    [OutsideCheck("Moulding begun 15:00 and 15:30 after the sample", "met, not met", "ASTM C31/C31M and C172", SourceMark.Published)]
    public void Moulding_begins_within_fifteen_minutes(int minutes, int seconds, Verdict expected) =>
        Assert.Equal(expected, Sample(s => s with { MouldedAt = s.SampledAt.AddMinutes(minutes).AddSeconds(seconds) }).Verdict("place.moulding"));

    [Fact]
    public void Every_batch_is_represented_by_a_valid_sample_of_its_mix_and_day()
    {
        const string Id = "place.represented";
        Assert.Equal(3, Good.Findings(Id).Count(f => f.Verdict == Verdict.Met));
        Assert.All(Good.Without<SampleTested>().Findings(Id), f => Assert.Equal(Verdict.Missing, f.Verdict));
        var lapsed = Good.By<SampleTested>("p-112").Findings(Id);
        Assert.All(lapsed, f => Assert.Equal((Verdict.Missing, 1), (f.Verdict, f.SetAside.Count)));
        Assert.Equal(Verdict.Missing, Good.Without<BatchTicketed>(t => t.Batch.Ticket == First).Verdict(Id, First));
        Assert.All(Good.Limit("sampling.volume", "4").Findings(Id), f => Assert.Equal(Verdict.Missing, f.Verdict));
    }

    [Theory]
    [InlineData("50", Verdict.Met)]
    [InlineData("50.01", Verdict.Missing)]
    [OutsideCheck("Concrete that one test stands for: 3 x 50 and 3 x 50.01 yd3", "one for every 150 yd3", "ACI 318-08, frequency of testing", SourceMark.Published)]
    public void One_sample_stands_for_so_much_concrete(string each, Verdict expected) =>
        Assert.All(Good.Change<PourPlaced>(p => p with { Rows = [.. p.Rows.Select(r => r with { VolumeYd3 = R(each) })] }).Findings("place.represented"), f => Assert.Equal(expected, f.Verdict));

    [Fact]
    public void A_batch_of_another_mix_is_not_met() =>
        Assert.Equal(Verdict.NotMet, Ticket(t => t with { Mix = "MX-40" }).Verdict("place.mix-as-scheduled", First));

    [Fact]
    public void Instruments_of_batch_and_sample_are_looked_up()
    {
        Assert.Equal(Verdict.Missing, Ticket(t => t with { Instruments = null }).Verdict("place.instruments", $"batch:plant-1/{First}"));
        Assert.All(Good.Without<InstrumentCalibrated>(c => c.Instrument == "AM-1").Findings("place.instruments").Where(f => f.Subject.EndsWith("AM-1", StringComparison.Ordinal)), f => Assert.Equal(Verdict.Missing, f.Verdict));
    }

    [Fact]
    public void A_bad_sample_stays_beside_a_good_one()
    {
        var good = Good.The<SampleTested>();
        var twice = Good.Add(good with { Sample = "SM-AGAIN", AirGaugePct = R("9.9"), Cylinders = [] }, good.MouldedAt.AddMinutes(10), "p-107");
        Assert.Equal(Verdict.NotMet, twice.Verdict("place.air", "SM-AGAIN"));
        Assert.Equal(HoldState.Held, twice.Without<UnitShipped>().Judge().Hold(HoldKind.Ship).State);
    }

    [Fact]
    public void Before_the_pour_everything_is_pending_and_without_its_records_missing()
    {
        Assert.All(Good.Before<BatchTicketed>().Judge().Findings.Where(f => f.Hold == HoldKind.Place && f.Verdict != Verdict.NotApplicable), f => Assert.Equal(Verdict.Pending, f.Verdict));
        Assert.All(Good.Without<PourPlaced>().Judge().Findings.Where(f => f.Hold == HoldKind.Place && f.Verdict != Verdict.NotApplicable), f => Assert.Equal(Verdict.Missing, f.Verdict));
        Assert.All(Good.Without<BatchTicketed>().Findings("place.batch-weights"), f => Assert.Equal(Verdict.Missing, f.Verdict));
    }
}
