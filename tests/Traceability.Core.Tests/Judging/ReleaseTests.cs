using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Releases: what they cover, how long they stand, what ends them.</summary>
public sealed class ReleaseTests
{
    private static UnitCase Ready { get; } = BeforePour.PourRule(expires: [ExpiryCause.Rain, ExpiryCause.CageMoved, ExpiryCause.NewRevision, ExpiryCause.LotQuarantined]);

    private static string Cage => Good.The<CageTied>().Cage;

    private static LotId Heat => Good.The<CageTied>().Bars[0].Lots[0];

    private static WeatherRead Rain => new([Unit], R("48"), RainedIn: true);

    [Fact]
    public void A_hold_with_nothing_open_is_ready_then_released_and_stays_released_after_the_step()
    {
        Assert.Equal(HoldState.Ready, Ready.State());
        var released = Ready.Release(-1);
        Assert.Equal(HoldState.Released, released.State());
        Assert.Equal("p-102", released.Hold().ReleasedBy);
        Assert.Equal(HoldState.Released, released.Poured().State());
        Assert.Empty(released.Poured().Hold().Alarms);
    }

    [Fact]
    public void A_release_after_the_step_never_fixes_it()
    {
        var hold = Ready.Release(1).Poured().Hold();
        Assert.Equal(HoldState.PassedWithoutRelease, hold.State);
        Assert.Equal([AlarmKind.PassedWithoutRelease], hold.Alarms());
        Assert.True(hold.Breach);
        Assert.Equal(HoldState.PassedWithoutRelease, Ready.Poured().State());
    }

    [Fact]
    public void Where_two_clocks_cannot_tell_release_from_step_nobody_can()
    {
        var hold = Ready.Release(0).Poured().Hold();
        Assert.Equal(HoldState.CannotTell, hold.State);
        Assert.Equal([AlarmKind.CannotTell], hold.Alarms());
    }

    [Fact]
    public void A_release_ends_at_the_time_it_states_and_the_judgement_names_that_moment()
    {
        var released = Ready.Release(-2, until: Pour.AddHours(-1));
        var judged = released.Now(-1.5).Judge();
        Assert.Equal((HoldState.Released, Pour.AddHours(-1)), (judged.Hold(HoldKind.Pour).State, judged.Hold(HoldKind.Pour).ValidUntil));
        Assert.Equal(Pour.AddHours(-1), judged.ValidUntil);
        var expired = released.Now(-1).Hold();
        Assert.Equal(HoldState.Expired, expired.State);
        Assert.Contains("valid until", expired.Cause, StringComparison.Ordinal);
        Assert.Equal([AlarmKind.Expired], expired.Alarms());
        Assert.True(expired.MayBeReleased);
    }

    [Fact]
    public void The_profile_s_hours_end_a_release_that_states_no_time_and_never_lengthen_one()
    {
        var ruled = BeforePour.PourRule(validHours: 2);
        Assert.Equal(HoldState.Released, ruled.Release(-3).Now(-1.01).State());
        Assert.Equal(HoldState.Expired, ruled.Release(-3).Now(-1).State());
        Assert.Equal(HoldState.Expired, ruled.Release(-3, until: Pour.AddHours(-2)).Now(-2).State());
        Assert.Equal(HoldState.Expired, ruled.Release(-3, until: Pour.AddHours(5)).Now(-1).State());
    }

    [Fact]
    public void After_expiry_it_is_released_again_and_that_release_counts()
    {
        var again = Ready.Release(-3, until: Pour.AddHours(-2)).Release(-1, id: "release-2");
        Assert.Equal(again.ReleaseId("release-2"), again.Hold().Release);
        Assert.Equal((HoldState.Released, again.ReleaseId("release-2")), (again.Poured().State(), again.Poured().Hold().Release));
        // Only the expired one before the step: the step was taken without.
        var late = Ready.Release(-3, until: Pour.AddHours(-2)).Release(1, id: "release-2").Poured();
        Assert.Equal(HoldState.PassedWithoutRelease, late.State());
        Assert.Contains("had ended", late.Hold().Cause, StringComparison.Ordinal);
    }

    [Fact]
    public void Rain_between_release_and_pour_ends_it_before_or_after_it_does_not()
    {
        Assert.Equal(HoldState.Expired, Ready.Release(-2).At(Rain, -1).State());
        Assert.Equal(HoldState.PassedWithoutRelease, Ready.Release(-2).At(Rain, -1).Poured().State());
        Assert.Contains("rain", Ready.Release(-2).At(Rain, -1).Hold().Cause, StringComparison.Ordinal);
        Assert.Equal(HoldState.Released, Ready.At(Rain, -3).Release(-2).State());
        Assert.Equal(HoldState.Released, Ready.Release(-2).At(Rain, 1).Poured().State());
        Assert.Equal(HoldState.Released, Ready.Release(-2).At(Rain with { RainedIn = false }, -1).State());
        Assert.Equal(HoldState.Released, Ready.Release(-2).At(Rain, -1).Release(-0.5, id: "release-2").Poured().State());
        Assert.Equal(HoldState.Released, BeforePour.PourRule(expires: ExpiryCause.CageMoved).Release(-2).At(Rain, -1).State());
        Assert.Equal(HoldState.Released, BeforePour.Release(-2).At(Rain, -1).State());
    }

    [Fact]
    public void Rain_that_the_clocks_cannot_order_against_the_release_ends_it_until_somebody_looks_again()
    {
        var close = Ready.Release(-2).Add(Rain, Pour.AddHours(-2).AddSeconds(-1), source: "/test/another");
        Assert.Equal(HoldState.Expired, close.State());
        Assert.Equal(HoldState.CannotTell, close.Poured().State());
        Assert.Equal(HoldState.CannotTell, Ready.Release(-2).At(Rain, 0).Poured().State());
    }

    [Fact]
    public void A_moved_or_exchanged_cage_ends_it()
    {
        Assert.Equal(HoldState.Expired, Ready.Release(-2).At(new CageMoved(Cage, "bay 4"), -1).State());
        Assert.Equal(HoldState.Released, Ready.Release(-2).At(new CageMoved("CG-OTHER", "bay 4"), -1).State());
        Assert.Equal(HoldState.Expired, Ready.Release(-2).At(new CageSwapped(Unit, Cage, "CG-OTHER", "bent"), -1).State());
    }

    [Fact]
    public void A_new_revision_ends_it_when_it_comes_into_force()
    {
        var drawing = Good.The<DrawingApproved>();
        var day = DateOnly.FromDateTime(Pour.Date);
        Assert.Equal(HoldState.Expired, Ready.Release(-2).At(drawing with { Revision = "Z", ApprovedOn = day }, -1).State());
        Assert.Equal(HoldState.Released, Ready.Release(-2).At(drawing with { Revision = "0", ApprovedOn = drawing.ApprovedOn.AddDays(-9) }, -1).State());
        var superseded = Ready.Release(-2).At(new DrawingSuperseded(drawing.Drawing, drawing.Revision, Pour.AddHours(-0.5), "lifters moved", "Z"), -1);
        Assert.Equal(HoldState.Released, superseded.Now(-0.6).State());
        Assert.Equal(Pour.AddHours(-0.5), superseded.Now(-0.6).Judge().ValidUntil);
        Assert.Equal(HoldState.Expired, superseded.Now(-0.5).State());
        Assert.Equal(HoldState.PassedWithoutRelease, superseded.Poured().State());
        Assert.Equal(HoldState.Released, Ready.Release(-2).At(new DrawingSuperseded(drawing.Drawing, drawing.Revision, Pour.AddHours(3), "lifters moved", "Z"), -1).Poured().State());
    }

    [Fact]
    public void A_quarantined_lot_ends_it_and_clearing_the_lot_does_not_bring_it_back()
    {
        var quarantined = Ready.Release(-2).At(new LotQuarantined(Heat, "mill withdraws the report"), -1);
        Assert.Equal(HoldState.Expired, quarantined.State());
        Assert.Contains(Heat.Number, quarantined.Hold().Cause, StringComparison.Ordinal);
        Assert.Equal(HoldState.Expired, quarantined.At(new LotCleared(Heat, "report replaced", "letter 7"), -0.9).State());
        Assert.Equal(HoldState.Released, Ready.Release(-2).At(new LotQuarantined(new LotId("Elsewhere", "1"), "not ours"), -1).State());
    }

    [Fact]
    public void What_a_release_covers_must_be_what_is_there_whatever_the_profile_lists()
    {
        var scheduled = Good.The<UnitScheduled>();
        var closeUp = Good.The<CloseUpInspected>();
        var right = new ReleaseScope(scheduled.Revision, Cage, closeUp.Form, [.. Good.The<CageTied>().Bars.SelectMany(b => b.Lots).Distinct()]);
        Assert.Equal(HoldState.Released, BeforePour.Release(-1, right).State());
        Assert.Equal(HoldState.Released, BeforePour.Release(-1, right).Poured().State());
        Assert.All(new[] { right with { Revision = "Z" }, right with { Cage = "CG-OTHER" }, right with { Form = "F-OTHER" }, right with { Heats = [Heat] } },
            wrong => Assert.Equal((HoldState.Expired, HoldState.PassedWithoutRelease), (BeforePour.Release(-1, wrong).State(), BeforePour.Release(-1, wrong).Poured().State())));
        Assert.Equal(HoldState.Expired, BeforePour.Release(-2, right).At(new CageSwapped(Unit, Cage, "CG-OTHER", "bent"), -1).State());
        Assert.Equal(HoldState.Expired, BeforePour.Release(-2, right).At(scheduled with { Revision = "Z" }, -1).State());
        Assert.Equal(HoldState.Expired, BeforePour.Release(-2, right).At(new FormRebuilt(closeUp.Form, "B", "leg height"), -1).State());
    }

    [Fact]
    public void A_form_rebuilt_for_the_next_unit_does_not_end_the_release_of_one_that_is_out_of_it()
    {
        var form = Good.The<CloseUpInspected>().Form;
        var inYard = Good.Without<UnitShipped>().Add(new ShipReleased(Unit, Basis, null, new ReleaseScope(Form: form)), Shipped.AddHours(-2), "p-102", id: "ship-1");
        Assert.Equal(HoldState.Released, inYard.Add(new FormRebuilt(form, "B", "leg height"), Shipped.AddHours(-1)).State(HoldKind.Ship));
    }

    [Fact]
    public void Undone_it_is_as_if_not_given_and_undoing_after_the_step_changes_nothing()
    {
        var released = Ready.Release(-2);
        var undone = released.At(new ReleaseUndone(Unit, HoldKind.Pour, released.ReleaseId(), "wrong unit"), -1);
        Assert.Equal((HoldState.Ready, null), (undone.State(), undone.Hold().Release));
        Assert.True(undone.Hold().MayBeReleased);
        Assert.Equal(HoldState.PassedWithoutRelease, undone.Poured().State());
        Assert.Equal(HoldState.Released, released.At(new ReleaseUndone(Unit, HoldKind.Pour, released.ReleaseId(), "wrong unit"), 1).Poured().State());
    }

    [Fact]
    public void Evidence_that_comes_after_a_release_and_contradicts_it_is_an_alarm_and_the_release_stays()
    {
        var hold = Ready.Release(-1).Without<LotCertified>().Hold();
        Assert.Equal((HoldState.Released, true), (hold.State, hold.Contradicted));
        Assert.Equal([AlarmKind.Contradicted], hold.Alarms());
    }

    [Fact]
    public void A_unit_that_came_back_needs_a_new_ship_release()
    {
        var shipped = Good.Add(new ShipReleased(Unit, Basis), Shipped.AddHours(-1), "p-102", id: "ship-1");
        Assert.Equal(HoldState.Released, shipped.State(HoldKind.Ship));
        var back = shipped.Add(new UnitReturned(Unit, "chipped edge", "bay 2"), Shipped.AddDays(1));
        Assert.Equal((HoldState.Ready, null), (back.State(HoldKind.Ship), back.Hold(HoldKind.Ship).Step));
        Assert.Empty(back.Hold(HoldKind.Ship).Alarms);
        var again = back.Add(Good.The<UnitShipped>() with { Delivery = "D-2" }, Shipped.AddDays(3));
        Assert.Equal(HoldState.PassedWithoutRelease, again.State(HoldKind.Ship));
        Assert.Equal(HoldState.Released, again.Add(new ShipReleased(Unit, Basis), Shipped.AddDays(2), "p-102", id: "ship-2").State(HoldKind.Ship));
    }

    [Fact]
    public void What_was_looked_at_and_certified_for_the_first_truck_does_not_count_for_the_next()
    {
        var first = Good.Limit("asked.load-out", "1").Limit("asked.load-certificate", "1")
            .Add(new LoadOutInspected(Unit, "T-1", true, true, true), Shipped.AddHours(-1)).Add(new LoadCertificateIssued("D-1", [Unit], new string('a', 64)), Shipped.AddHours(-1));
        Assert.Equal((Verdict.Met, Verdict.Met), (first.Verdict("ship.load-out"), first.Verdict("ship.documents")));
        var back = first.Add(new UnitReturned(Unit, "chipped edge", "bay 2"), Shipped.AddDays(1));
        Assert.Equal((Verdict.Pending, Verdict.Pending), (back.Verdict("ship.load-out"), back.Verdict("ship.documents")));
        Assert.Equal(Verdict.Met, back.Add(new LoadOutInspected(Unit, "T-2", true, true, true), Shipped.AddDays(2)).Verdict("ship.load-out"));
    }

    [Fact]
    public void An_earlier_shipment_without_a_release_stays_a_breach_after_the_unit_came_back()
    {
        var back = Good.Add(new UnitReturned(Unit, "chipped edge", "bay 2"), Shipped.AddDays(1)).Hold(HoldKind.Ship);
        Assert.Equal([AlarmKind.PassedWithoutRelease], back.Alarms());
        Assert.Equal(HoldState.Ready, back.State);
    }

    [Fact]
    public void A_rejected_unit_is_held_at_every_step_not_yet_taken_and_no_release_stands()
    {
        foreach (var rejected in new IFact[] { new UnitRejected(Unit, "cracked through"), new AgencyRejected(Unit, "cracked through", "L-9") })
        {
            var hold = Ready.Release(-2).At(rejected, -1).Release(-0.5, id: "release-2").Hold();
            Assert.Equal((HoldState.Held, false), (hold.State, hold.MayBeReleased));
            Assert.Contains(hold.OpenItems, o => o.Requirement == "ship.not-rejected");
            Assert.Equal(HoldState.PassedWithoutRelease, Ready.Release(-2).At(rejected, -1).Poured().State());
            Assert.Equal(HoldState.Released, Ready.Release(-2).At(rejected, 500).Poured().State());
        }
    }
}
