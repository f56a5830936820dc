using Traceability.PlantSimulator.Story;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Core.Tests.Judging;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Dossiers;

/// <summary>What each nonconformance of a unit waits for.</summary>
public sealed class NonconformanceStateTests
{
    private static UnitCase Raised(bool structural, NonconformanceClass kind = NonconformanceClass.Minor) =>
        Good.At(new NonconformanceRaised("NC-1", [Unit], kind, structural, "spall at the bearing"), 24);

    private static NonconformanceState Of(UnitCase unit) => Assert.Single(NonconformanceState.Of(Assemble.Unit(new Dossier(Subject.Unit(Unit), unit.Records.Count, unit.Records, PlantStory.Time))));

    private static UnitRepaired Repair(double began) => new(Unit, "RP-3", Pour.AddHours(began), Pour.AddHours(began + 2), "NC-1");

    [Fact]
    public void It_waits_for_disposition_letter_repair_and_closing_in_turn()
    {
        var unit = Raised(structural: true);
        Assert.Equal((Awaited.Disposition, Pour.AddHours(24)), (Of(unit).Awaited, Of(unit).RaisedAt));
        unit = unit.At(new NonconformanceDisposed("NC-1", DispositionKind.Repair, "RP-3"), 30);
        Assert.Equal(Awaited.Letter, Of(unit).Awaited);
        unit = unit.At(new NonconformanceApproved("NC-1", Approver.EngineerOfRecord, "L-4", Pour.AddHours(40), []), 41);
        Assert.Equal(Awaited.Repair, Of(unit).Awaited);
        unit = unit.At(Repair(50), 53);
        Assert.Equal((Awaited.Closing, false), (Of(unit).Awaited, Of(unit).RepairTooEarly));
        Assert.Equal(Awaited.Nothing, Of(unit.At(new NonconformanceClosed("NC-1", "repaired"), 60)).Awaited);
    }

    [Fact]
    public void The_quality_engineer_s_own_approval_is_no_letter_for_a_structural_or_major_one()
    {
        UnitCase Approved(UnitCase raised) => raised.At(new NonconformanceDisposed("NC-1", DispositionKind.UseAsIs, "small"), 30)
            .At(new NonconformanceApproved("NC-1", Approver.QualityEngineer, "L-4", Pour.AddHours(31), []), 31);
        Assert.Equal(Awaited.Letter, Of(Approved(Raised(structural: true))).Awaited);
        Assert.Equal(Awaited.Letter, Of(Approved(Raised(structural: false, NonconformanceClass.Major))).Awaited);
        Assert.Equal(Awaited.Closing, Of(Raised(structural: false).At(new NonconformanceDisposed("NC-1", DispositionKind.UseAsIs, "small"), 30)).Awaited);
        Assert.Equal(Awaited.Closing, Of(Raised(structural: true).At(new NonconformanceDisposed("NC-1", DispositionKind.Reject, "scrap"), 30)).Awaited);
    }

    [Fact]
    public void A_repair_that_began_before_its_approval_is_told()
    {
        var disposed = Raised(structural: true).At(new NonconformanceDisposed("NC-1", DispositionKind.Repair, "RP-3"), 30);
        Assert.True(Of(disposed.At(Repair(35), 38)).RepairTooEarly);
        Assert.True(Of(disposed.At(new NonconformanceApproved("NC-1", Approver.EngineerOfRecord, "L-4", Pour.AddHours(40), []), 41).At(Repair(39.5), 42)).RepairTooEarly);
        Assert.True(Of(Raised(structural: false).At(Repair(29), 31).At(new NonconformanceDisposed("NC-1", DispositionKind.Repair, "RP-3"), 30)).RepairTooEarly);
        Assert.False(Of(Raised(structural: false).At(Repair(31), 33).At(new NonconformanceDisposed("NC-1", DispositionKind.Repair, "RP-3"), 30)).RepairTooEarly);
    }
}
