using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class PourTests
{
    private static UnitCase Seen(Func<PrePourInspected, PrePourInspected> change) => Good.Change(change);

    private static UnitCase Measured(string name, string measured, string? drawn = null) =>
        Seen(i => i with { Dimensions = [.. i.Dimensions.Select(d => d.Name == name ? d with { MeasuredIn = R(measured) } : d)] })
            .Change<DrawingApproved>(d => d with { Dimensions = [.. d.Dimensions.Select(x => x.Name == name && drawn is not null ? x with { SpecifiedIn = R(drawn) } : x)] });

    [Theory]
    [InlineData("slab thickness", "10", "9 1/2", Verdict.Met)]
    [InlineData("slab thickness", "10", "9.49", Verdict.NotMet)]
    [InlineData("slab thickness", "10", "14", Verdict.Met)]
    [InlineData("slab thickness", "3", "2.8125", Verdict.Met)]
    [InlineData("slab thickness", "3", "2.8124", Verdict.NotMet)]
    [InlineData("clear span", "144", "142.56", Verdict.Met)]
    [InlineData("clear span", "144", "142.55", Verdict.NotMet)]
    [InlineData("clear span", "144", "145.44", Verdict.Met)]
    [InlineData("clear span", "144", "145.45", Verdict.NotMet)]
    [InlineData("laying length", "72", "72 1/4", Verdict.Met)]
    [InlineData("laying length", "72", "71 11/16", Verdict.NotMet)]
    [InlineData("weep sleeve above footing", "14", "14 1/2", Verdict.Met)]
    [InlineData("weep sleeve above footing", "14", "14 9/16", Verdict.NotMet)]
    [OutsideCheck("Wall of 10 in: least thickness", "9.50 in, over is no cause for rejection", "ASTM C1577, 11", SourceMark.Memory)]
    [OutsideCheck("Wall of 3 in: least thickness", "2.8125 in", "ASTM C76, 12", SourceMark.Memory)]
    [OutsideCheck("Span of 12 ft", "142.56 to 145.44 in", "ASTM C1577, 11", SourceMark.Memory)]
    [OutsideCheck("Length of a frame element", "+-1/4 in", "PCI MNL-116", SourceMark.Memory)]
    [OutsideCheck("Position of inserts and sleeves", "+-1/2 in", "PCI MNL-116", SourceMark.Memory)]
    public void A_dimension_turns_exactly_at_its_tolerance(string name, string drawn, string measured, Verdict expected) =>
        Assert.Equal(expected, Measured(name, measured, drawn).Verdict("pour.dimensions", name));

    [Fact]
    public void A_dimension_not_measured_is_missing_and_of_two_readings_the_bad_one_stays()
    {
        Assert.Equal(Verdict.Missing, Seen(i => i with { Dimensions = [.. i.Dimensions.Skip(1)] }).Verdict("pour.dimensions", "clear span"));
        var twice = Seen(i => i with { Dimensions = [.. i.Dimensions, new MeasuredDimension("leg thickness", R("10"))] });
        Assert.Equal([Verdict.Met, Verdict.NotMet], twice.Findings("pour.dimensions").Where(f => f.Subject.EndsWith("leg thickness", StringComparison.Ordinal)).Select(f => f.Verdict).Order());
        Assert.Equal(Verdict.Missing, Good.Change<DrawingApproved>(d => d with { Dimensions = [] }).Verdict("pour.dimensions"));
    }

    [Fact]
    public void A_mismatch_of_embeds_is_a_question()
    {
        const string Id = "pour.embeds";
        UnitCase Found(Func<EmbedFound, EmbedFound?> change) => Seen(i => i with { Embeds = [.. i.Embeds.Select(e => e.Item == "lifting insert" ? change(e) : e).OfType<EmbedFound>()] });
        Assert.Equal(Verdict.Met, Good.Verdict(Id, "lifting insert"));
        Assert.Equal(Verdict.CannotTell, Found(e => e with { Count = 3 }).Verdict(Id, "lifting insert"));
        Assert.Equal(Verdict.CannotTell, Found(e => e with { PlacedAsDrawn = false }).Verdict(Id, "lifting insert"));
        Assert.Equal(Verdict.Missing, Found(_ => null).Verdict(Id, "lifting insert"));
        Assert.Equal(Verdict.CannotTell, Seen(i => i with { Embeds = [.. i.Embeds, new EmbedFound("conduit", 1, true)] }).Verdict(Id, "conduit"));
        Assert.Equal(HoldState.PassedWithoutRelease, Found(e => e with { Count = 3 }).Judge().Hold(HoldKind.Pour).State);
    }

    [Fact]
    public void The_form_is_tight_and_the_one_of_the_schedule()
    {
        Assert.Equal(Verdict.NotMet, Seen(i => i with { FormTight = false }).Verdict("pour.form-tight"));
        Assert.Equal(Verdict.CannotTell, Seen(i => i with { Form = "RF-FORM-9" }).Verdict("pour.form-tight"));
    }

    [Fact]
    public void The_mix_is_approved_on_the_day_of_the_pour()
    {
        const string Id = "pour.mix-approved";
        var day = Good.The<UnitScheduled>().PourOn;
        UnitCase Runs(int from, int? through) => Good.Change<MixApproved>(m => m with { ApprovedOn = day.AddDays(from), ValidThrough = through is { } t ? day.AddDays(t) : null });
        Assert.Equal(Verdict.Met, Runs(0, 0).Verdict(Id));
        Assert.Equal(Verdict.Met, Runs(-400, null).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Runs(-30, -1).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Runs(1, 30).Verdict(Id));
        Assert.Equal(Verdict.Missing, Good.Without<MixApproved>().Verdict(Id));
    }

    [Fact]
    public void The_actual_day_of_the_pour_counts_once_it_is_known()
    {
        var day = Good.The<UnitScheduled>().PourOn;
        var valid = Good.Change<MixApproved>(m => m with { ValidThrough = day });
        Assert.Equal(Verdict.Met, valid.Verdict("pour.mix-approved"));
        Assert.Equal(Verdict.NotMet, valid.Change<PourPlaced>(p => p with { StartedAt = p.StartedAt.AddDays(1), FinishedAt = p.FinishedAt.AddDays(1) }).Verdict("pour.mix-approved"));
    }

    [Fact]
    public void A_revision_counts_by_its_day_against_the_pour()
    {
        var drawing = Good.The<DrawingApproved>();
        var pour = Good.The<PourPlaced>().StartedAt;
        UnitCase Replaced(int days) => Good.Add(drawing with { Revision = "C", ApprovedOn = DateOnly.FromDateTime(pour.DateTime).AddDays(days) }, pour.AddDays(-2));
        Assert.Equal(Verdict.Met, Replaced(1).Verdict("pour.drawing-in-force"));
        Assert.Equal(Verdict.CannotTell, Replaced(0).Verdict("pour.drawing-in-force"));
        Assert.Equal(Verdict.NotMet, Replaced(-1).Verdict("pour.drawing-in-force"));
    }

    [Fact]
    public void Close_up_comes_before_closing_and_that_before_the_pour()
    {
        const string Id = "pour.in-order";
        Assert.All(Good.Findings(Id), f => Assert.Equal(Verdict.Met, f.Verdict));
        var closed = Good.RecordOf<PrePourInspected>().OccurredAt.At;
        var open = Good.RecordOf<CloseUpInspected>().OccurredAt.At;
        Assert.Equal(Verdict.NotMet, Good.Move<CloseUpInspected>(closed - open + TimeSpan.FromMinutes(1)).Verdict(Id, "close-up before closing"));
        Assert.Equal(Verdict.Missing, Good.Without<CloseUpInspected>().Verdict(Id, "close-up before closing"));
        var pour = Good.The<PourPlaced>().StartedAt;
        Assert.Equal(Verdict.NotMet, Good.Move<PrePourInspected>(pour - closed + TimeSpan.FromMinutes(1)).Verdict(Id, "inspected before"));
        Assert.Equal(Verdict.CannotTell, Good.Move<PrePourInspected>(pour - closed + TimeSpan.FromSeconds(1)).Verdict(Id, "inspected before"));
    }

    [Fact]
    public void A_second_inspection_before_a_second_pour_does_not_speak_of_the_first_pour_and_without_one_the_second_pour_lacks_it()
    {
        const string Id = "pour.in-order";
        var first = Good.The<PourPlaced>();
        var begins = first.StartedAt.AddHours(5);
        var curb = Good.Add(first with { Pour = "P-curb", StartedAt = begins, FinishedAt = begins.AddMinutes(20) }, begins.AddMinutes(25), "p-105");
        UnitCase Inspected(double minutes) => curb.Add(Good.The<PrePourInspected>(), begins.AddMinutes(minutes), "p-103", "/test/inspection");
        Assert.Equal(Verdict.Met, curb.Verdict(Id, first.Pour));
        Assert.Equal(Verdict.Missing, curb.Verdict(Id, "P-curb"));
        Assert.Contains($"between pour {first.Pour} and pour P-curb", curb.Finding(Id, "P-curb").Reason, StringComparison.Ordinal);
        Assert.All(Inspected(-30).Findings(Id), f => Assert.Equal(Verdict.Met, f.Verdict));
        Assert.Equal((Verdict.Met, Verdict.NotMet), (Inspected(10).Verdict(Id, first.Pour), Inspected(10).Verdict(Id, "P-curb")));
        Assert.Equal(Verdict.CannotTell, Inspected(1.0 / 60).Verdict(Id, "P-curb"));
        // Nor does an inspection after the first pour stand in for the one before it.
        Assert.Equal(Verdict.NotMet, Inspected(-30).Without<PrePourInspected>().Add(Good.The<PrePourInspected>(), begins.AddMinutes(-30), "p-103", "/test/inspection").Verdict(Id, first.Pour));
        // The steel of the curb is inspected again too, after the first form was closed.
        Assert.Equal(Verdict.Met, Inspected(-30).Add(Good.The<CloseUpInspected>(), begins.AddMinutes(-60), "p-103").Verdict(Id, "close-up before closing"));
    }

    [Fact]
    public void Inspector_and_instruments_of_the_closed_form_are_valid()
    {
        Assert.Equal(Verdict.NotMet, Good.By<PrePourInspected>("p-104").Verdict("pour.inspector", "crew"));
        Assert.Equal(Verdict.Missing, Good.By<PrePourInspected>("p-104").Verdict("pour.inspector", "certificate"));
        Assert.Equal(Verdict.Missing, Seen(i => i with { Instruments = [] }).Verdict("pour.instruments"));
        Assert.Equal(Verdict.Missing, Good.Without<InstrumentCalibrated>(c => c.Instrument == "TAPE-4").Verdict("pour.instruments", "TAPE-4"));
    }

    [Fact]
    public void Before_the_inspection_its_requirements_are_pending_and_after_the_pour_missing()
    {
        string[] waiting = ["pour.dimensions", "pour.embeds", "pour.form-tight", "pour.inspector", "pour.instruments", "pour.in-order"];
        Assert.All(Good.Before<PrePourInspected>().Judge().Findings.Where(f => waiting.Contains(f.Requirement)), f => Assert.Equal(Verdict.Pending, f.Verdict));
        Assert.All(Good.Without<PrePourInspected>().Judge().Findings.Where(f => waiting.Contains(f.Requirement)), f => Assert.Equal(Verdict.Missing, f.Verdict));
    }

    [Fact]
    public void A_unit_inspected_in_order_is_ready_to_pour()
    {
        var ready = Good.Before<BatchTicketed>();
        Assert.Equal(HoldState.Ready, ready.Judge().Hold(HoldKind.Pour).State);
        Assert.Equal(HoldState.Held, ready.Without<ContractOpened>().Judge().Hold(HoldKind.Pour).State);
    }

    [Fact]
    public void A_release_between_two_pours_came_too_late_whichever_pour_was_reported_first()
    {
        var first = Good.The<PourPlaced>();
        // The second pour is reported before the first one is; the release lies between their beginnings.
        var second = first with { Pour = "P-second", StartedAt = first.StartedAt.AddMinutes(40), FinishedAt = first.StartedAt.AddMinutes(60) };
        var two = Good.Change<PourPlaced>((p, _) => p, time: _ => first.StartedAt.AddHours(3)).Add(second, first.StartedAt.AddHours(2));
        UnitCase Released(int minutes) => two.Add(new PourReleased(UnitCase.Unit, new DecisionBasis(1, "hash", Rules.Version)), first.StartedAt.AddMinutes(minutes));
        Assert.Equal(HoldState.PassedWithoutRelease, Released(20).Judge().Hold(HoldKind.Pour).State);
        Assert.Equal(HoldState.Released, Released(-20).Judge().Hold(HoldKind.Pour).State);
    }
}
