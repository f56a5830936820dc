using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class CloseUpTests
{
    private const string Leg = "north leg";

    private static UnitCase Seen(Func<CloseUpInspected, CloseUpInspected> change) => Good.Change(change);

    private static UnitCase Cover(string cover, string? specified = null, string? depth = "9", CoverFace face = CoverFace.Formed) =>
        Seen(i => i with { Covers = [.. i.Covers.Select(c => c.Place.StartsWith(Leg, StringComparison.Ordinal) ? c with { CoverIn = R(cover), DepthIn = null } : c)] })
            .Change<DrawingApproved>(d => d with
            {
                Bars = [.. d.Bars.Select(b => b.BarMark == "A1" ? b with { CoverIn = specified is null ? b.CoverIn : R(specified), DepthIn = depth is null ? null : R(depth), Face = face } : b)],
            });

    [Theory]
    [InlineData("1 1/8", "1.5", "7.5", Verdict.Met)]
    [InlineData("1.124", "1.5", "7.5", Verdict.NotMet)]
    [InlineData("0.667", "1.0", "9", Verdict.Met)]
    [InlineData("0.666", "1.0", "9", Verdict.NotMet)]
    [InlineData("1 1/2", "2.0", "9", Verdict.Met)]
    [InlineData("1.499", "2.0", "9", Verdict.NotMet)]
    [InlineData("1 5/8", "2.0", "8", Verdict.Met)]
    [InlineData("1.624", "2.0", "8", Verdict.NotMet)]
    [OutsideCheck("Cover against its least: 1.5 in at d 7.5, 1.0 in at d 9, 2.0 in at d 9, 2.0 in at d 8", "turns at 1.125, 0.667, 1.5 and 1.625 in", "ACI 318-19, Table 26.6.2.1", SourceMark.Memory, Tolerance = "0.001 in")]
    public void Cover_turns_exactly_at_its_least(string cover, string specified, string depth, Verdict expected) =>
        Assert.Equal(expected, Cover(cover, specified, depth).Verdict("close-up.cover", Leg));

    [Theory]
    [InlineData("1 1/4", Verdict.Met)]
    [InlineData("1.249", Verdict.NotMet)]
    [OutsideCheck("Cover of 1.5 in at a formed soffit", "turns at 1.25 in", "ACI 318-19, 26.6.2.1", SourceMark.Memory)]
    public void A_formed_soffit_allows_a_quarter_inch(string cover, Verdict expected) =>
        Assert.Equal(expected, Cover(cover, "1.5", "9", CoverFace.FormedSoffit).Verdict("close-up.cover", Leg));

    [Theory]
    [InlineData("2.00", Verdict.Met)]
    [InlineData("1.99", Verdict.NotMet)]
    [InlineData("2.375", Verdict.Met)]
    [InlineData("2.40", Verdict.NotMet)]
    [OutsideCheck("Cover of 2.0 in, +3/8 -0: 2.00, 1.99, 2.375, 2.40 in", "in, out, in, out", "Virginia Department of Transportation, box-culvert solicitation", SourceMark.Published)]
    public void An_owner_may_ask_no_less_and_only_a_little_more(string cover, Verdict expected)
    {
        var owner = Cover(cover, "2.0").Limit("cover.reduction.deep", "0").Limit("cover.increase", "3/8");
        Assert.Equal(expected, owner.Verdict("close-up.cover", Leg));
    }

    [Theory]
    [InlineData("1 5/8", Verdict.Met)]
    [InlineData("1 9/16", Verdict.Missing)]
    [InlineData("1 7/16", Verdict.NotMet)]
    public void Without_a_depth_the_looser_row_is_never_taken(string cover, Verdict expected) =>
        Assert.Equal(expected, Cover(cover, "2.0", null).Verdict("close-up.cover", Leg));

    [Fact]
    public void A_reading_under_a_mark_the_drawing_does_not_have_is_not_dropped()
    {
        var judged = Seen(i => i with { Covers = [.. i.Covers, new CoverReading("somewhere", "Z9", R("0.5"))] });
        Assert.Equal(Verdict.CannotTell, judged.Verdict("close-up.cover", "Z9"));
    }

    [Fact]
    public void A_bar_mark_without_a_reading_is_missing() =>
        Assert.Equal(Verdict.Missing, Seen(i => i with { Covers = [.. i.Covers.Where(c => c.BarMark != "B1")] }).Verdict("close-up.cover", "bar mark B1"));

    [Fact]
    public void Without_its_limit_cover_is_missing_never_met() =>
        Assert.All(Good.Limit("cover.reduction.deep", _ => null).Findings("close-up.cover").Where(f => f.Subject.Contains("A1", StringComparison.Ordinal)), f => Assert.Equal(Verdict.Missing, f.Verdict));

    private static UnitCase Counted(Func<CountedBars, CountedBars?> change) =>
        Seen(i => i with { Bars = [.. i.Bars.Select(b => b.BarMark == "A1" ? change(b) : b).OfType<CountedBars>()] });

    [Fact]
    public void Bars_are_counted_against_the_drawing()
    {
        const string Id = "close-up.bars-as-drawn";
        Assert.Equal(Verdict.Met, Good.Verdict(Id, "A1"));
        Assert.Equal(Verdict.NotMet, Counted(b => b with { Count = 35 }).Verdict(Id, "A1"));
        Assert.Equal(Verdict.NotMet, Counted(b => b with { Count = 37 }).Verdict(Id, "A1"));
        Assert.Equal(Verdict.NotMet, Counted(b => b with { Size = "#4" }).Verdict(Id, "A1"));
        Assert.Equal(Verdict.Missing, Counted(_ => null).Verdict(Id, "A1"));
        Assert.Equal(Verdict.NotMet, Seen(i => i with { Bars = [.. i.Bars, new CountedBars("Z9", "#4", 2)] }).Verdict(Id, "Z9"));
    }

    [Fact]
    public void One_bar_mark_counted_on_two_faces_is_added_up() =>
        Assert.Equal(Verdict.Met, Seen(i => i with { Bars = [.. i.Bars.SelectMany(b => b.BarMark == "A1" ? [b with { Count = 20 }, b with { Count = 16 }] : new[] { b })] }).Verdict("close-up.bars-as-drawn", "A1"));

    [Theory]
    [InlineData("9", Verdict.Met)]
    [InlineData("3", Verdict.Met)]
    [InlineData("9 1/16", Verdict.NotMet)]
    [InlineData("2 15/16", Verdict.NotMet)]
    [OutsideCheck("Spacing of 6 in in slabs and walls, count unchanged", "3 to 9 in", "ACI 117, bar placing", SourceMark.Published)]
    public void Spacing_turns_exactly_at_its_tolerance(string spacing, Verdict expected) =>
        Assert.Equal(expected, Counted(b => b with { SpacingIn = R(spacing) }).Verdict("close-up.spacing", "A1"));

    [Fact]
    public void The_tolerance_on_spacing_holds_only_with_the_count_as_drawn()
    {
        Assert.Equal(Verdict.NotMet, Counted(b => b with { Count = 35 }).Verdict("close-up.spacing", "A1"));
        Assert.Equal(Verdict.Missing, Counted(b => b with { SpacingIn = null }).Verdict("close-up.spacing", "A1"));
    }

    [Theory]
    [InlineData("22 1/2", Verdict.Met)]
    [InlineData("22 7/16", Verdict.NotMet)]
    [OutsideCheck("Lap of 24 in", "at least 22 1/2 in", "ACI 117, bar placing", SourceMark.Published)]
    public void A_lap_turns_exactly_at_its_tolerance(string lap, Verdict expected)
    {
        Assert.Equal(expected, Counted(b => b with { LapIn = R(lap) }).Verdict("close-up.laps", "A1"));
        Assert.Equal(Verdict.Missing, Counted(b => b with { LapIn = null }).Verdict("close-up.laps", "A1"));
    }

    [Fact]
    public void What_the_inspector_saw_is_what_counts()
    {
        Assert.Equal(Verdict.NotMet, Seen(i => i with { SpacersInPlace = false }).Verdict("close-up.in-place", "spacers"));
        Assert.Equal(Verdict.NotMet, Seen(i => i with { InsertsInPlace = false }).Verdict("close-up.in-place", "inserts"));
        Assert.Equal(Verdict.NotMet, Seen(i => i with { LiftersInPlace = false }).Verdict("close-up.in-place", "lifters"));
        Assert.Equal(Verdict.NotMet, Seen(i => i with { OilOnSteel = true }).Verdict("close-up.no-oil-on-steel"));
    }

    [Fact]
    [OutsideCheck("Form oiled after the close-up inspection by the stations' times", "a hint, no verdict", "order of stations' times is only a hint", SourceMark.CommonPractice)]
    public void The_time_of_oiling_is_a_hint_and_changes_no_verdict()
    {
        var finding = Good.Move<FormOiled>(TimeSpan.FromHours(3)).Finding("close-up.no-oil-on-steel");
        Assert.Equal(Verdict.Met, finding.Verdict);
        Assert.Contains("look again", finding.Reason, StringComparison.Ordinal);
        Assert.DoesNotContain("look again", Good.Finding("close-up.no-oil-on-steel").Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void The_inspector_is_certified_on_the_day_and_not_of_the_crew()
    {
        const string Id = "close-up.inspector";
        var day = DateOnly.FromDateTime(Good.RecordOf<CloseUpInspected>().Sent.Time.DateTime);
        UnitCase Through(int days) => Good.Change<PersonCertified>(c => c.Certification == Certification.PlantInspector ? c with { ValidThrough = day.AddDays(days) } : c);
        Assert.Equal(Verdict.Met, Through(0).Verdict(Id, "certificate"));
        Assert.Equal(Verdict.NotMet, Through(-1).Verdict(Id, "certificate"));
        Assert.Equal(Verdict.Missing, Good.Without<PersonCertified>(c => c.Certification == Certification.PlantInspector).Verdict(Id, "certificate"));
        Assert.Equal(Verdict.Missing, Good.By<CloseUpInspected>(null).Verdict(Id, "certificate"));
        Assert.Equal(Verdict.NotMet, Good.Change<CageTied>(c => c with { Crew = ["p-102"] }).Verdict(Id, "crew"));
        Assert.Equal(Verdict.Missing, Good.Without<CageTied>().Verdict(Id, "crew"));
    }

    [Fact]
    public void Instruments_are_in_calibration_on_the_day()
    {
        const string Id = "close-up.instruments";
        var day = DateOnly.FromDateTime(Good.RecordOf<CloseUpInspected>().Sent.Time.DateTime);
        UnitCase Through(int days) => Good.Change<InstrumentCalibrated>(c => c.Instrument == "TAPE-4" ? c with { ValidThrough = day.AddDays(days) } : c);
        Assert.Equal(Verdict.Met, Through(0).Verdict(Id, "TAPE-4"));
        Assert.Equal(Verdict.NotMet, Through(-1).Verdict(Id, "TAPE-4"));
        Assert.Equal(Verdict.Missing, Good.Without<InstrumentCalibrated>(c => c.Instrument == "TAPE-4").Verdict(Id, "TAPE-4"));
        Assert.Equal(Verdict.Missing, Seen(i => i with { Instruments = [] }).Verdict(Id));
    }

    [Fact]
    public void The_cage_is_one_tied_for_this_unit_before_it_was_inspected()
    {
        const string Id = "close-up.cage-of-this-unit";
        Assert.Equal(Verdict.Met, Good.Verdict(Id));
        Assert.Equal(Verdict.NotMet, Good.Change<CageTied>(c => c with { Unit = "RF-0099" }).Verdict(Id));
        Assert.Equal(Verdict.Missing, Seen(i => i with { Cage = "CG-9999" }).Verdict(Id));
        var gap = Good.RecordOf<CloseUpInspected>().OccurredAt.At - Good.RecordOf<CageTied>().OccurredAt.At;
        Assert.Equal(Verdict.NotMet, Good.Move<CageTied>(gap + TimeSpan.FromMinutes(5)).Verdict(Id));
        Assert.Equal(Verdict.CannotTell, Good.Move<CageTied>(gap).Verdict(Id));
    }

    [Fact]
    public void Bars_are_tied_from_heats_of_their_size()
    {
        const string Id = "close-up.heats-of-size";
        Assert.Equal(Verdict.Met, Good.Verdict(Id, "A50932"));
        UnitCase Came(string? delivered, string? certified) => Good.Change<LotReceived>(r => r.Size == "#5" ? r with { Size = delivered } : r)
            .Change<LotCertified>(c => c.Size == "#5" ? c with { Size = certified } : c);
        Assert.Equal(Verdict.Met, Came(null, "#5").Verdict(Id, "A50932"));
        Assert.Equal(Verdict.Met, Came("#6", "#5").Verdict(Id, "A50932"));
        Assert.Equal(Verdict.NotMet, Came("#6", "#6").Verdict(Id, "A50932"));
        Assert.Equal(Verdict.Missing, Came(null, null).Verdict(Id, "A50932"));
        Assert.Equal(Verdict.Missing, Good.Without<CageTied>().Verdict(Id));
    }

    [Fact]
    public void Without_the_inspection_everything_of_close_up_is_pending_and_after_closing_missing()
    {
        Assert.All(Good.Before<CloseUpInspected>().Judge().Findings.Where(f => f.Hold == HoldKind.CloseUp && f.Requirement is not ("close-up.heats-of-size" or "close-up.bars-as-tied") && f.Verdict != Verdict.NotApplicable), f => Assert.Equal(Verdict.Pending, f.Verdict));
        Assert.All(Good.Without<CloseUpInspected>().Judge().Findings.Where(f => f.Hold == HoldKind.CloseUp && f.Requirement is not ("close-up.heats-of-size" or "close-up.bars-as-tied") && f.Verdict != Verdict.NotApplicable), f => Assert.Equal(Verdict.Missing, f.Verdict));
    }
}
