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
    public void What_turned_out_worse_than_it_was_is_not_gone_over()
    {
        var pending = BeforePour.Without<PrePourInspected>();
        var inspection = Held.RecordOf<PrePourInspected>();
        Assert.Contains(pending.Hold().OpenItems, o => (o.Requirement, o.Verdict) == ("pour.form-tight", Verdict.Pending));
        var over = pending.Override(HoldKind.Pour, -3);
        Assert.Equal(HoldState.Overridden, over.State());
        var worse = over.Add(inspection.Fact!, Pour.AddHours(-2), "p-103");
        Assert.Equal((Verdict.NotMet, HoldState.Held), (worse.Verdict("pour.form-tight"), worse.State()));
        Assert.Contains("does not go over pour.form-tight", worse.Hold().Cause, StringComparison.Ordinal);
        var poured = new UnitCase([.. worse.Poured().Records.Where(r => r.Sent.Id != Good.RecordOf<PrePourInspected>().Sent.Id)], Good.At).Hold();
        Assert.Equal((HoldState.Overridden, true), (poured.State, poured.Contradicted));
        Assert.Contains(AlarmKind.Contradicted, poured.Alarms());
    }

    [Fact]
    public void An_override_that_names_no_verdict_goes_over_what_was_not_there_and_over_nothing_that_failed()
    {
        Assert.Equal(HoldState.Held, Held.Override(HoldKind.Pour, -1, items: ["pour.form-tight unit:RF-0001"]).State());
        Assert.Equal(HoldState.Overridden, Held.Override(HoldKind.Pour, -1, items: ["pour.form-tight unit:RF-0001 (not met)"]).State());
        var pending = BeforePour.Without<PrePourInspected>();
        Assert.Equal(HoldState.Overridden, pending.Override(HoldKind.Pour, -1, items: [.. pending.Hold().OpenItems.Select(o => $"{o.Requirement} {o.Subject}")]).State());
    }

    [Fact]
    public void A_key_of_a_long_subject_still_carries_its_verdict()
    {
        var item = new OpenItem("pour.form-tight", new string('x', 400), Verdict.NotMet, "", "");
        var key = Traceability.Core.Judging.Holds.Overrides.Key(item);
        Assert.Equal((300, true), (key.Length, key.EndsWith("(not met)", StringComparison.Ordinal)));
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
