using Traceability.PlantSimulator.Story;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.People;
using Traceability.Core.Records;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Who speaks for the agency: an inspector assigned to it on that day, or its letter; by telephone until it is confirmed.</summary>
public sealed class InspectorTests
{
    private const string Inspector = "p-301", Other = "Another Invented Agency";

    private static readonly string Letter = new('b', 64);

    private static UnitCase Agency { get; } = BeforePour.PourRule(HoldAuthority.AgencyHold);

    private static string Own { get; } = Good.The<ContractOpened>().Agency;

    private static DateOnly Today { get; } = DateOnly.FromDateTime(Pour.DateTime);

    private static UnitCase Assigned(string agency, int from = -10, int? through = null, string person = Inspector) =>
        Agency.At(new InspectorAssigned(person, agency, Today.AddDays(from), through is { } t ? Today.AddDays(t) : null), -200);

    private static UnitCase Acted(UnitCase unit, IFact? act = null) => unit.At(act ?? new AgencyHoldReleased(Unit, HoldKind.Pour), -2, Inspector);

    [Fact]
    public void What_another_agencys_inspector_released_opens_nothing_and_the_finding_says_whose_it_is_not()
    {
        Assert.Equal(HoldState.Ready, Acted(Assigned(Own)).State());
        var other = Acted(Assigned(Other));
        Assert.Equal((HoldState.Held, Verdict.Pending), (other.State(), other.Verdict("pour.agency")));
        Assert.Contains($"{Inspector} was not an inspector of {Own}", other.Finding("pour.agency").Reason, StringComparison.Ordinal);
        Assert.Equal(HoldState.Ready, Acted(Assigned(Other).At(new InspectorAssigned(Inspector, Own, Today.AddDays(-1)), -100)).State());
    }

    [Theory, InlineData(-10, 0, true), InlineData(0, null, true), InlineData(0, 0, true), InlineData(-10, -1, false), InlineData(1, null, false)]
    public void An_assignment_counts_from_its_first_day_through_its_last(int from, int? through, bool counts) =>
        Assert.Equal(counts ? HoldState.Ready : HoldState.Held, Acted(Assigned(Own, from, through)).State());

    [Fact]
    public void The_order_in_which_the_assignment_and_the_act_arrive_makes_no_difference()
    {
        var after = Acted(Agency).At(new InspectorAssigned(Inspector, Other, Today.AddDays(-5)), -1);
        Assert.Equal(HoldState.Held, after.State());
    }

    [Fact]
    public void A_letter_counts_whoever_entered_it()
    {
        Assert.Equal(HoldState.Ready, Acted(Assigned(Other), new AgencyHoldReleased(Unit, HoldKind.Pour, "L-1", LetterSha256: Letter)).State());
        Assert.Equal(HoldState.Held, Acted(Assigned(Other), new AgencyHoldReleased(Unit, HoldKind.Pour, "L-1")).State());
    }

    [Fact]
    public void Waivers_presence_and_stamps_of_another_agencys_inspector_count_as_little_as_its_release()
    {
        Assert.Equal(Verdict.Waived, Acted(Assigned(Own), new AgencyWaived([Unit], HoldKind.Pour, Pour.AddHours(-4), Pour.AddHours(4), "L-2")).Verdict("pour.agency"));
        Assert.Equal(Verdict.Pending, Acted(Assigned(Other), new AgencyWaived([Unit], HoldKind.Pour, Pour.AddHours(-4), Pour.AddHours(4), "L-2")).Verdict("pour.agency"));
        var witness = Agency.PourRule(HoldAuthority.AgencyWitness, noticeHours: 24);
        UnitCase Present(string agency) => witness.At(new InspectorAssigned(Inspector, agency, Today.AddDays(-5)), -100).At(new AgencyPresent(["RF-0002", Unit], HoldKind.Pour), -0.5, Inspector);
        Assert.Equal((Verdict.Met, Verdict.Pending), (Present(Own).Verdict("pour.agency"), Present(Other).Verdict("pour.agency")));
        UnitCase Stamped(string agency) => Good.Limit("asked.stamp", "1").At(new InspectorAssigned(Inspector, agency, Today.AddDays(-5)), -100).At(new UnitStamped(Unit, "S-1"), 20, Inspector);
        Assert.Equal((Verdict.Met, Verdict.Missing), (Stamped(Own).Verdict("ship.stamped"), Stamped(Other).Verdict("ship.stamped")));
    }

    private static string? Whose(UnitCase unit) => Agencies.Of(Assemble.Unit(new Dossier(Subject.Unit(Unit), unit.Records.Count, unit.Records, PlantStory.Time)));

    [Fact]
    public void A_unit_of_stock_belongs_to_the_agency_whose_profile_it_is_cast_to()
    {
        var stock = Agency.Change<UnitScheduled>(s => s with { Contract = null, StockProfile = Good.The<ProfilePublished>().Profile, StockProfileVersion = Good.The<ProfilePublished>().Version });
        Assert.Null(Whose(stock));
        var named = stock.Change<ProfilePublished>(p => p with { Agency = Other });
        Assert.Equal((Other, Own), (Whose(named), Whose(Agency)));
        Assert.Equal(HoldState.Ready, Acted(named.At(new InspectorAssigned(Inspector, Other, Today), -100)).State());
    }

    private static AgencyHoldReleased Call { get; } = new(Unit, HoldKind.Pour, Telephone: new(Inspector, Pour.AddHours(-3), "go ahead with it"));

    private static UnitCase ByTelephone(decimal? hours) => Agency.Under(new HoldRule(HoldKind.Pour, HoldAuthority.AgencyHold, TelephoneHours: hours is { } h ? R(h.ToString(System.Globalization.CultureInfo.InvariantCulture)) : null))
        .At(new InspectorAssigned(Inspector, Own, Today.AddDays(-5)), -100).At(Call, -2, "p-101");

    [Fact]
    public void A_release_by_telephone_stands_where_the_profile_allows_it_until_its_confirmation_is_due()
    {
        var called = ByTelephone(24);
        Assert.Equal((HoldState.Ready, Verdict.Provisional), (called.State(), called.Verdict("pour.agency")));
        Assert.Contains("go ahead with it", called.Finding("pour.agency").Reason, StringComparison.Ordinal);
        Assert.Contains("Confirmation due by", called.Finding("pour.agency").Reason, StringComparison.Ordinal);
        Assert.Equal(HoldState.Held, ByTelephone(null).State());
        Assert.Contains("allows none by telephone", ByTelephone(null).Finding("pour.agency").Reason, StringComparison.Ordinal);
        Assert.Equal(HoldState.Held, ByTelephone(2).Now(-0.5).State());
    }

    [Fact]
    public void The_unit_poured_on_a_telephone_release_stays_provisional_until_the_agency_confirms()
    {
        var poured = ByTelephone(24).Release(-1).Poured();
        Assert.Equal((HoldState.Released, Verdict.Provisional), (poured.State(), poured.Verdict("pour.agency")));
        Assert.Contains("Confirmation overdue since", poured.Finding("pour.agency").Reason, StringComparison.Ordinal);
        Assert.Equal(Verdict.Met, poured.At(new AgencyHoldReleased(Unit, HoldKind.Pour), 5, Inspector).Verdict("pour.agency"));
        Assert.Equal(Verdict.Met, poured.At(new AgencyHoldReleased(Unit, HoldKind.Pour, "L-7", LetterSha256: Letter), 5, "p-101").Verdict("pour.agency"));
    }

    [Fact]
    public void The_voice_on_the_telephone_is_asked_for_its_agency_too()
    {
        var other = Agency.Under(new HoldRule(HoldKind.Pour, HoldAuthority.AgencyHold, TelephoneHours: R("24"))).At(new InspectorAssigned(Inspector, Other, Today.AddDays(-5)), -100).At(Call, -2, "p-101");
        Assert.Equal(HoldState.Held, other.State());
    }
}
