using Traceability.PlantSimulator.Story;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Core.Tests.Judging;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Dossiers;

/// <summary>Where a unit is and what became of it.</summary>
public sealed class UnitStateTests
{
    private static readonly DateTimeOffset s_shipped = HoldCase.Shipped;

    private static UnitCase InYard { get; } = Good.Without<UnitShipped>();

    private static UnitState Of(UnitCase unit, string serial = Unit) => UnitState.Of(Assemble.Unit(new Dossier(Subject.Unit(serial), unit.Records.Count, unit.Records, PlantStory.Time)));

    private static UnitPhase Phase(UnitCase unit) => Of(unit).Phase;

    [Fact]
    public void It_goes_from_the_schedule_to_the_truck()
    {
        Assert.Equal(UnitPhase.Unknown, Phase(Good.Before<UnitScheduled>()));
        Assert.Equal(UnitPhase.Scheduled, Phase(Good.Before<CageTied>()));
        Assert.Equal(UnitPhase.Tied, Phase(Good.Before<CloseUpInspected>()));
        Assert.Equal(UnitPhase.Inspected, Phase(Good.Before<BatchTicketed>()));
        Assert.Equal(UnitPhase.Poured, Phase(Good.Before<UnitStripped>()));
        Assert.Equal(UnitPhase.Stripped, Phase(InYard));
        Assert.Equal(UnitPhase.Shipped, Phase(Good));
    }

    [Fact]
    public void In_the_yard_its_place_is_where_it_was_set_down_last()
    {
        var moved = InYard.Add(new UnitStored(Unit, "row 4", true), s_shipped.AddDays(-1)).Add(new UnitMoved(Unit, "row 9"), s_shipped.AddHours(-3));
        Assert.Equal((UnitPhase.InYard, "yard, row 9"), (Of(moved).Phase, Of(moved).Place));
        var loaded = moved.Add(new DeliveryLoaded("D-1", "T-4", [Unit]), s_shipped.AddHours(-1));
        Assert.Equal((UnitPhase.Loaded, "on truck T-4, delivery D-1"), (Of(loaded).Phase, Of(loaded).Place));
    }

    [Fact]
    public void Delivered_is_delivered_whichever_clock_was_ahead()
    {
        var delivery = Good.The<UnitShipped>().Delivery;
        Assert.Equal(UnitPhase.Delivered, Phase(Good.Add(new DeliveryDelivered(delivery, [Unit], "R. Site"), s_shipped.AddHours(2))));
        Assert.Equal(UnitPhase.Delivered, Phase(Good.Add(new DeliveryDelivered(delivery, [Unit], "R. Site"), s_shipped.AddSeconds(-20))));
        Assert.Equal(UnitPhase.Shipped, Phase(Good.Add(new DeliveryDelivered(delivery, ["RF-0002"], "R. Site"), s_shipped.AddHours(2))));
    }

    [Fact]
    public void What_came_back_is_returned_until_it_is_shipped_again()
    {
        var back = Good.Add(new UnitReturned(Unit, "chipped", "bay 2"), s_shipped.AddDays(1));
        Assert.Equal((UnitPhase.Returned, "returned, bay 2"), (Of(back).Phase, Of(back).Place));
        var moved = back.Add(new UnitMoved(Unit, "row 1"), s_shipped.AddDays(2));
        Assert.Equal((UnitPhase.Returned, "yard, row 1"), (Of(moved).Phase, Of(moved).Place));
        Assert.Equal(HoldKind.Ship, UnitState.NextHold(Phase(back)));
        Assert.Equal(UnitPhase.Shipped, Phase(back.Add(Good.The<UnitShipped>() with { Delivery = "D-9" }, s_shipped.AddDays(3))));
    }

    [Fact]
    public void What_is_rejected_stays_rejected_until_it_is_disposed_of()
    {
        var rejected = InYard.Add(new UnitRejected(Unit, "dropped"), s_shipped.AddHours(-2)).Add(new UnitMoved(Unit, "scrap row"), s_shipped.AddHours(-1));
        Assert.Equal((UnitPhase.Rejected, "yard, scrap row", "the plant: dropped"), (Of(rejected).Phase, Of(rejected).Place, Of(rejected).Rejection));
        Assert.Null(UnitState.NextHold(UnitPhase.Rejected));
        var gone = rejected.Add(new UnitDisposed(Unit, "crushed on site", "p-102"), s_shipped);
        Assert.Equal((UnitPhase.Disposed, "disposed of: crushed on site"), (Of(gone).Phase, Of(gone).Place));
        Assert.Equal("the agency: honeycombed", Of(InYard.Add(new AgencyRejected(Unit, "honeycombed"), s_shipped)).Rejection);
        // A rejection of what has left does not bring it back.
        Assert.Equal(UnitPhase.Shipped, Phase(Good.Add(new AgencyRejected(Unit, "honeycombed"), s_shipped.AddDays(1))));
    }

    [Fact]
    public void A_recast_is_seen_from_both_castings()
    {
        var recast = InYard.Add(new UnitRejected(Unit, "dropped"), s_shipped.AddHours(-2)).Add(new UnitRecast("RF-0009", Unit, "dropped"), s_shipped.AddHours(-1));
        Assert.Equal(("RF-0009", null), (Of(recast).RecastAs, Of(recast).InPlaceOf));
        Assert.Equal((Unit, null), (Of(recast, "RF-0009").InPlaceOf, Of(recast, "RF-0009").RecastAs));
    }

    [Fact]
    public void A_stock_unit_is_stock_until_it_is_allocated()
    {
        var stock = InYard.Change<UnitScheduled>(s => s with { Contract = null });
        Assert.True(Of(stock).IsStock);
        Assert.False(Of(stock.Add(new UnitAllocated(Unit, Good.The<ContractOpened>().Contract, "B1"), s_shipped)).IsStock);
        Assert.False(Of(InYard).IsStock);
    }
}
