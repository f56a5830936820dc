using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Overrides open a plant hold for what they name, and nothing else ever.</summary>
public sealed class OverrideTests
{
    private static UnitCase Held { get; } = BeforePour.Change<PrePourInspected>(p => p with { FormTight = false });

    [Fact]
    public void An_override_by_two_people_opens_a_plant_hold_for_the_items_it_names()
    {
        Assert.Equal(HoldState.Held, Held.State());
        var over = Held.Override(HoldKind.Pour, -1);
        Assert.Equal((HoldState.Overridden, "p-101"), (over.State(), over.Hold().ReleasedBy));
        Assert.Equal(HoldState.Overridden, over.Poured().State());
        Assert.Empty(over.Poured().Hold().Alarms);
        Assert.Equal(HoldState.PassedWithoutRelease, Held.Override(HoldKind.Pour, 1).Poured().State());
    }

    [Fact]
    public void What_it_does_not_name_stays_open()
    {
        var over = Held.Override(HoldKind.Pour, -1).Change<CloseUpInspected>(c => c with { SpacersInPlace = false });
        Assert.Equal(HoldState.Held, over.State());
        Assert.Contains("does not go over", over.Hold().Cause, StringComparison.Ordinal);
        Assert.Equal((HoldState.Overridden, true), (over.Poured().State(), over.Poured().Hold().Contradicted));
    }

    [Fact]
    public void One_person_alone_overrides_nothing()
    {
        var alone = Held.Override(HoldKind.Pour, -1, second: "p-101").Hold();
        Assert.Equal((HoldState.Held, true), (alone.State, alone.Breach));
        Assert.Equal([AlarmKind.OverrideBreach], alone.Alarms());
        Assert.Equal(HoldState.Held, Held.Override(HoldKind.Pour, -1, breach: true).State());
    }

    [Fact]
    public void An_agency_s_hold_is_not_overridden()
    {
        var hold = Held.PourRule(HoldAuthority.AgencyHold).Override(HoldKind.Pour, -1).Hold();
        Assert.Equal(HoldState.Held, hold.State);
        Assert.Equal([AlarmKind.OverrideBreach], hold.Alarms());
        Assert.Equal([AlarmKind.PassedWithoutRelease, AlarmKind.OverrideBreach], Held.PourRule(HoldAuthority.AgencyHold).Override(HoldKind.Pour, -1).Poured().Hold().Alarms());
    }

    [Fact]
    public void Domestic_steel_is_not_overridden()
    {
        var foreign = BeforePour.Change<LotCertified>(c => c with { MeltedIn = "DE" }).Change<ContractOpened>(c => c with { ObligatedOn = new DateOnly(2026, 1, 5) });
        Assert.Contains(foreign.Hold().OpenItems, o => o.Requirement == "tying.domestic");
        Assert.Equal((HoldState.Held, true), (foreign.Override(HoldKind.Pour, -1).State(), foreign.Override(HoldKind.Pour, -1).Hold().Breach));
        // Nor by an override that leaves it out.
        Assert.Equal(HoldState.Held, foreign.Override(HoldKind.Pour, -1, items: []).State());
    }

    [Fact]
    public void A_check_of_lifting_is_not_overridden()
    {
        var weak = Good.Before<UnitStripped>().Change<DrawingApproved>(d => d with { Lifting = d.Lifting with { InsertUltimateLbf = R("100") } });
        Assert.Contains(weak.Hold(HoldKind.Strip).OpenItems, o => o.Requirement == "strip.lifting");
        var hold = weak.Override(HoldKind.Strip, 10).Hold(HoldKind.Strip);
        Assert.Equal((HoldState.Held, true), (hold.State, hold.Breach));
    }

    [Fact]
    public void An_override_ends_like_a_release()
    {
        var rain = Held.PourRule(expires: ExpiryCause.Rain).Override(HoldKind.Pour, -2).At(new WeatherRead([Unit], R("48"), true), -1);
        Assert.Equal(HoldState.Held, rain.State());
        Assert.Equal(HoldState.PassedWithoutRelease, rain.Poured().State());
    }
}
