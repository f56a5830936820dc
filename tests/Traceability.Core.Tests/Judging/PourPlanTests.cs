using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Records;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class PourPlanTests
{
    private static PourPlaced Poured => Good.The<PourPlaced>();

    private static UnitScheduled Scheduled => Good.The<UnitScheduled>();

    private static string Form => Good.The<PrePourInspected>().Form;

    private static DateTimeOffset Inspected => Good.RecordOf<PrePourInspected>().OccurredAt.At;

    private static DrawingSuperseded Withdrawn(DateTimeOffset from) => new(Scheduled.Drawing, Scheduled.Revision, from, "insert moved", "D");

    [Fact]
    public void A_revision_withdrawn_before_the_pour_may_not_be_poured_to_and_one_withdrawn_after_it_changes_nothing()
    {
        Assert.Equal(Verdict.Met, Good.Verdict("pour.drawing-stands"));
        Assert.Equal(Verdict.NotMet, Good.Add(Withdrawn(Poured.StartedAt), Inspected).Verdict("pour.drawing-stands"));
        Assert.Equal(Verdict.Met, Good.Add(Withdrawn(Poured.StartedAt.AddMinutes(1)), Inspected).Verdict("pour.drawing-stands"));
        Assert.Equal(Verdict.Met, Good.Add(Withdrawn(Poured.StartedAt.AddDays(-1)) with { Revision = "OLD" }, Inspected).Verdict("pour.drawing-stands"));
        Assert.Contains("revision D", Good.Add(Withdrawn(Poured.StartedAt), Inspected).Finding("pour.drawing-stands").Clear, StringComparison.Ordinal);
        Assert.Equal(Verdict.Missing, Good.Without<UnitScheduled>().Verdict("pour.drawing-stands"));
    }

    [Fact]
    public void Before_the_pour_a_withdrawal_counts_from_its_moment_on_and_the_judgement_knows_until_when_it_stands()
    {
        var waiting = Good.Before<PourPlaced>();
        var from = waiting.At.AddHours(2);
        var told = waiting.Add(Withdrawn(from), waiting.At.AddMinutes(-1));
        Assert.Equal(Verdict.Met, told.Verdict("pour.drawing-stands"));
        Assert.True(told.Judge().ValidUntil <= from);
        Assert.Equal(Verdict.NotMet, told.AsOf(from).Verdict("pour.drawing-stands"));
    }

    private static SamplingLotDefined Lot(bool random = false, string? skipped = null) => new("SL-7", SamplingBasis.MixAndDay, Scheduled.Mix, [Unit], random, SkippedByPermission: skipped);

    [Fact]
    public void Where_the_profile_asks_it_the_unit_belongs_to_a_sampling_lot_and_its_number_is_drawn()
    {
        var asked = Good.Limit("sampling.plan", "1");
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("pour.sampling-plan"));
        Assert.Equal(Verdict.Missing, asked.Verdict("pour.sampling-plan"));
        Assert.Equal(Verdict.Pending, asked.Before<PourPlaced>().Verdict("pour.sampling-plan"));
        Assert.Equal(Verdict.Met, asked.Add(Lot(), Inspected).Verdict("pour.sampling-plan"));
        Assert.Equal(Verdict.Missing, asked.Add(Lot(random: true), Inspected).Verdict("pour.sampling-plan"));
        Assert.Equal(Verdict.Met, asked.Add(Lot(random: true), Inspected).Add(new RandomNumberDrawn("SL-7", "table", "0.417", "second load"), Inspected).Verdict("pour.sampling-plan"));
        Assert.Equal(Verdict.Met, asked.Add(Lot(random: true, skipped: "invented letter 4"), Inspected).Verdict("pour.sampling-plan"));
        Assert.Equal(Verdict.Missing, asked.Add(Lot() with { Units = ["RF-0900"] }, Inspected).Verdict("pour.sampling-plan"));
    }

    private static readonly LotId Insert = new("insert-maker", "L-22");

    private static UnitCase Embeds(LotId? lot) => Good.Limit("embeds.domestic", "1")
        .Change<DrawingApproved>(d => d with { Embeds = [new EmbedLine("lifting insert", 4)] }).Change<PrePourInspected>(p => p with { Embeds = [new EmbedFound("lifting insert", 4, true)] })
        .Add(new InsertsFixed(Unit, Form, [new FixedItem("lifting insert", 4, lot)]), Inspected.AddHours(-3));

    private static LotCertified Statement(string? melted, string? made) => Good.The<LotCertified>() with { Lot = Insert, CertificateNumber = "INS-22", Size = null, MeltedIn = melted, ManufacturedIn = made };

    [Theory]
    [InlineData("US", "US", Verdict.Met)]
    [InlineData("US", "CA", Verdict.NotMet)]
    [InlineData("CA", "US", Verdict.NotMet)]
    [InlineData("US", null, Verdict.Missing)]
    [InlineData(null, null, Verdict.Missing)]
    [OutsideCheck("Embedded steel of a federally obligated contract", "melted and manufactured in the United States, as for bars", "Build America, Buy America Act, 70912(6)", SourceMark.Published)]
    public void Embedded_steel_needs_its_domestic_statement(string? melted, string? made, Verdict expected) =>
        Assert.Equal(expected, Embeds(Insert).Add(Statement(melted, made), Inspected.AddDays(-3)).Verdict("pour.embeds-domestic"));

    [Fact]
    public void An_embed_without_lot_or_statement_is_missing_and_where_it_is_not_asked_it_does_not_apply()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("pour.embeds-domestic"));
        Assert.Equal(Verdict.Missing, Embeds(null).Verdict("pour.embeds-domestic"));
        Assert.Equal(Verdict.Missing, Embeds(Insert).Verdict("pour.embeds-domestic"));
        Assert.Equal(Verdict.Missing, Embeds(Insert).Without<InsertsFixed>().Verdict("pour.embeds-domestic"));
        Assert.Equal(Verdict.NotApplicable, Embeds(Insert).Change<ContractOpened>(c => c with { ObligatedOn = null }).Verdict("pour.embeds-domestic"));
        Assert.Equal(Verdict.Missing, Embeds(Insert).Change<ContractOpened>(c => c with { ObligatedOn = null }).Add(new ContractObligated(Good.The<ContractOpened>().Contract, new DateOnly(2025, 11, 3), "notice"), Inspected.AddDays(-30)).Verdict("pour.embeds-domestic"));
        Assert.Equal(Verdict.NotApplicable, Embeds(Insert).Change<DrawingApproved>(d => d with { Embeds = [] }).Verdict("pour.embeds-domestic"));
    }

    /// <summary>A form 8 ft high with a rating, the unit poured alone in so many hours.</summary>
    private static UnitCase Rated(bool full, string? psf, double hours = 1.6, bool fluid = false, string temperature = "70") => Good.Limit("form.pressure.chemistry", "1.0")
        .Change<DrawingApproved>(d => d with { Dimensions = [.. d.Dimensions, new SpecifiedDimension("height", DimensionKind.Length, R("96"))] })
        .Change<MixApproved>(m => fluid ? m : m with { TargetFlowIn = null, TargetSlumpIn = R("6") })
        .Change<SampleTested>(s => s with { TemperatureF = R(temperature), DensityLbFt3 = R("150"), SlumpIn = R("6") })
        .Change<PourPlaced>(p => p with { FinishedAt = p.StartedAt.AddHours(hours) })
        .Add(new FormInspected(Form, "S-12", [], true, full, [], psf is null ? null : R(psf)), Inspected.AddDays(-9));

    [Theory]
    [InlineData("793", 1.6, "70", Verdict.Met)]
    [InlineData("792", 1.6, "70", Verdict.NotMet)]
    [InlineData("900", 1.6, "60", Verdict.Met)]
    [InlineData("899", 1.6, "60", Verdict.NotMet)]
    [InlineData("1200", 0.5, "70", Verdict.Met)]
    [InlineData("1199", 0.5, "70", Verdict.NotMet)]
    [OutsideCheck("Verdict on a form: 8 ft at 5 ft/h and 70 F, 150 lb/ft3, chemistry 1.0; at 60 F; at 16 ft/h", "turns at 792.9, 900 and 1,200 psf", "ACI 347R-14, walls", SourceMark.Memory, Tolerance = "0.1 psf")]
    public void Pressure_as_placed_turns_at_the_forms_rating(string rated, double hours, string temperature, Verdict expected) =>
        Assert.Equal(expected, Rated(false, rated, hours, temperature: temperature).Verdict("place.form-pressure"));

    [Fact]
    public void Self_consolidating_concrete_and_a_pour_of_several_units_have_the_full_head()
    {
        Assert.Equal((Verdict.Met, Verdict.NotMet), (Rated(false, "1200", fluid: true).Verdict("place.form-pressure"), Rated(false, "1199", fluid: true).Verdict("place.form-pressure")));
        var bed = Rated(false, "1199").Change<PourPlaced>(p => p with { Rows = [.. p.Rows, p.Rows[0] with { Unit = "RF-0900" }] });
        Assert.Equal(Verdict.NotMet, bed.Verdict("place.form-pressure"));
        Assert.Equal(Verdict.NotMet, Rated(false, "1199").Change<SampleTested>(s => s with { SlumpIn = R("7 1/4") }).Verdict("place.form-pressure"));
    }

    [Fact]
    public void A_form_for_the_full_head_takes_everything_and_one_without_a_rating_is_missing()
    {
        Assert.Equal((Verdict.NotApplicable, Verdict.NotApplicable), (Good.Verdict("place.form-pressure"), Good.Verdict("pour.form-rated")));
        foreach (var requirement in new[] { "place.form-pressure", "pour.form-rated" })
        {
            Assert.Equal(Verdict.Met, Rated(true, null, fluid: true).Verdict(requirement));
            Assert.Equal(Verdict.Missing, Rated(false, null).Verdict(requirement));
            Assert.Equal(Verdict.Missing, Rated(true, null).Without<FormInspected>().Verdict(requirement));
            Assert.Equal(Verdict.Missing, Rated(false, "1300", fluid: true).Change<DrawingApproved>(d => d with { Dimensions = [] }).Verdict(requirement));
            Assert.Equal(Verdict.NotApplicable, Rated(false, "100").Change<MixApproved>(m => m with { DryCast = true }).Verdict(requirement));
            Assert.Equal(Verdict.Missing, Rated(true, null).Without<PrePourInspected>().Verdict(requirement));
        }

        Assert.Equal(Verdict.Missing, Rated(false, "1300").Without<SampleTested>().Verdict("place.form-pressure"));
        Assert.Equal(Verdict.Missing, Rated(false, "1300").Without<MixApproved>().Verdict("pour.form-rated"));
    }

    [Fact]
    public void Before_the_pour_a_pressure_rating_is_judged_for_fluid_concrete_and_waits_for_the_rate_of_other()
    {
        Assert.Equal((Verdict.Met, Verdict.NotMet), (Rated(false, "1200", fluid: true).Verdict("pour.form-rated"), Rated(false, "1199", fluid: true).Verdict("pour.form-rated")));
        Assert.Equal(Verdict.Provisional, Rated(false, "700").Verdict("pour.form-rated"));
    }

    [Fact]
    public void Form_pressure_is_the_plants_own_and_stands_in_nothing_for_the_agency()
    {
        var unit = Rated(false, "100");
        string[] own = ["place.form-pressure", "pour.form-rated"];
        Assert.Equal(own, Rules.All.Where(r => r.PlantOnly).Select(r => r.Id).Order(StringComparer.Ordinal));
        Assert.Equal(Verdict.NotMet, unit.Verdict("place.form-pressure"));
        var byContract = unit.ByContract();
        Assert.All(byContract.Findings.Where(f => own.Contains(f.Requirement)), f => Assert.Equal((Verdict.NotApplicable, "", ""), (f.Verdict, f.Observed, f.Limit)));
        Assert.DoesNotContain(byContract.Holds.SelectMany(h => h.OpenItems), i => own.Contains(i.Requirement));
    }
}
