using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>A contradiction takes a record out of what counts; the record may be the bad one, so no step is free while it is open.</summary>
public sealed class ConflictTests
{
    private const string Agree = "ship.records-agree";

    private static readonly DateTimeOffset Stripped = Good.RecordOf<UnitStripped>().OccurredAt.At;

    private static UnitCase Broken(UnitCase unit, string cylinder, int loadLbf, double minutes) => unit.Add(
        Good.The<CylinderBroken>() with { Cylinder = cylinder, Diameter1In = R("4.00"), Diameter2In = R("4.00"), LengthIn = R("8.00"), LoadLbf = Traceability.Core.Quantities.Reading.Of(loadLbf) },
        Stripped.AddHours(-1).AddMinutes(minutes), "p-108");

    private static UnitCase Corrected(UnitCase unit, IFact right, int version, double minutes, Guid record, string type) =>
        unit.At(new RecordCorrected(record, version, type, FactCatalog.Write(right), "read again"), minutes / 60);

    [Fact]
    public void A_low_cylinder_sent_again_with_another_load_does_not_make_the_strip_ready()
    {
        var bare = Good.Before<UnitStripped>().Without<CylinderBroken>(b => b.Cylinder.StartsWith("ST", StringComparison.Ordinal));
        var low = Broken(Broken(Broken(bare, "ST1", 30160, 0), "ST2", 45240, 4), "ST3", 45240, 8);
        var again = Broken(low, "ST1", 45240, 20);
        Assert.Equal(Verdict.CannotTell, again.Finding(Agree).Verdict);
        var strip = again.Hold(HoldKind.Strip);
        Assert.Equal(HoldState.Held, strip.State);
        Assert.Contains(strip.OpenItems, o => o.Requirement == Agree);
    }

    [Fact]
    public void Two_corrections_of_one_bad_record_leave_the_pour_held()
    {
        var lot = Good.The<CageTied>().Bars[0].Lots[0];
        foreach (var bad in new IFact[] { new LotQuarantined(lot, "asked back"), new UnitRejected(Unit, "dropped"), new WeatherRead([Unit], R("50"), true) })
        {
            var unit = BeforePour.At(bad, -2);
            var (record, type) = (unit.Records[^1].Id, unit.Records[^1].Type);
            var twice = Corrected(Corrected(unit, bad, 1, -60, record, type), bad, 1, -50, record, type);
            Assert.Equal(Verdict.CannotTell, twice.Finding(Agree).Verdict);
            Assert.Equal(HoldState.Held, twice.State());
            Assert.Contains(twice.Hold().OpenItems, o => o.Requirement == Agree);
        }
    }

    [Fact]
    public void A_release_that_stood_is_contradicted_by_it_and_a_step_taken_before_is_not()
    {
        var bad = new LotQuarantined(Good.The<CageTied>().Bars[0].Lots[0], "asked back");
        var unit = BeforePour.Release(-3).At(bad, -2);
        var (record, type) = (unit.Records[^1].Id, unit.Records[^1].Type);
        var twice = Corrected(Corrected(unit, bad, 1, -60, record, type), bad, 1, -50, record, type);
        Assert.Equal((HoldState.Released, true), (twice.State(), twice.Hold().Contradicted));
        Assert.Equal((HoldState.Released, false), (twice.Poured().State(), twice.Poured().Hold().Contradicted));
    }
}
