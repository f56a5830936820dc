using Traceability.PlantSimulator.Story;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Core.Tests.Judging;
using Traceability.Service.Assembling;
using static Traceability.Core.Tests.Judging.HoldCase;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Rules;

/// <summary>What the board keeps of a unit: how far it came, how urgent it is, and whether somebody still has to hear of it.</summary>
public sealed class Unit_rows
{
    private static UnitRow Row(UnitCase unit)
    {
        var file = Assemble.Unit(new Dossier(Subject.Unit(UnitCase.Unit), unit.Records.Count, unit.Records, PlantStory.Time));
        return UnitRow.Of(file, Judge.Unit(file, unit.At), unit.Records.Count, unit.At);
    }

    private static UnitCase Shipped { get; } = UnitCase.Good.Add(new ShipReleased(UnitCase.Unit, Basis), HoldCase.Shipped.AddHours(-1), "p-102", id: "ship-1");

    private static UnitCase InYard { get; } = UnitCase.Good.Without<UnitShipped>();

    [Fact]
    public void What_left_on_a_release_with_nothing_awaited_is_not_watched_any_more()
    {
        var row = Row(Shipped);
        Assert.Equal((UnitPhase.Shipped, (short)3, (short)2), (row.Phase, row.Priority, row.Watch));
    }

    [Fact]
    public void What_left_without_a_release_is_watched()
    {
        var row = Row(UnitCase.Good);
        Assert.Equal((UnitPhase.Shipped, (short)1), (row.Phase, row.Watch));
        Assert.Contains(row.Alarms, a => a is { Hold: HoldKind.Ship, Kind: AlarmKind.PassedWithoutRelease });
    }

    [Fact]
    public void What_came_back_is_in_the_plant_again()
    {
        var row = Row(Shipped.Add(new UnitReturned(UnitCase.Unit, "chipped", "bay 2"), HoldCase.Shipped.AddDays(1)));
        Assert.Equal((UnitPhase.Returned, (short)0, "returned, bay 2"), (row.Phase, row.Watch, row.Place));
    }

    [Fact]
    public void What_was_rejected_is_done_with_unless_a_nonconformance_of_it_waits()
    {
        var rejected = InYard.Add(new UnitRejected(UnitCase.Unit, "dropped"), HoldCase.Shipped);
        Assert.Equal((UnitPhase.Rejected, (short)3, (short)2, "the plant: dropped"), (Row(rejected).Phase, Row(rejected).Priority, Row(rejected).Watch, Row(rejected).Rejection));
        var row = Row(rejected.Add(new NonconformanceRaised("NC-1", [UnitCase.Unit], NonconformanceClass.Major, true, "dropped from the hook"), HoldCase.Shipped));
        Assert.Equal((short)1, row.Watch);
        Assert.Equal(Awaited.Disposition, Assert.Single(row.Nonconformances).Awaited);
    }
}
