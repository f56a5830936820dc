using Traceability.PlantSimulator.Story;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Judging.CloseUp;
using Traceability.Core.Profiles;
using Traceability.Core.Records;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class ConsequenceTests
{
    private static UnitCase Cover(string measured) => Good
        .Change<DrawingApproved>(d => d with { Bars = [d.Bars[0] with { Size = "#5", CoverIn = R("1 1/2"), SpacingIn = R("6"), DepthIn = R("8 3/16") }], DesignStrengthPsi = R("5000") })
        .Change<CloseUpInspected>(c => c with { Covers = [new CoverReading("top of slab", "A1", R(measured))] });

    private static IReadOnlyList<CoverCost> Costs(UnitCase unit) =>
        CoverConsequences.Of(Assemble.Unit(new Dossier(Subject.Unit(Unit), unit.Records.Count, unit.Records, PlantStory.Time)), unit.Judge());

    [Theory]
    [InlineData("2", "0.936", "21.83 kip-ft at 1.5 in of cover, 20.43 kip-ft at 2 in")]
    [InlineData("2 1/4", "0.904", "19.73 kip-ft at 2.25 in")]
    [OutsideCheck("What is said of No. 5 at 6 in in a 10 in section of 5 ksi found at 2.00 and 2.25 in instead of 1.50 in of cover", "21.83 to 20.43 (0.936) and to 19.73 kip-ft (0.904); the engineer of record decides", "ACI 318-19, 22.2 and 22.3", SourceMark.Memory, Tolerance = "last digit")]
    public void A_cover_that_is_not_met_is_said_with_what_it_costs_and_who_decides(string measured, string ratio, string words)
    {
        var cost = Assert.Single(Costs(Cover(measured).Limit("cover.increase", "3/8")));
        Assert.Equal(decimal.Parse(ratio), decimal.Round(cost.Consequence.Ratio, 3));
        Assert.Contains(words, cost.Consequence.Statement, StringComparison.Ordinal);
        Assert.EndsWith("The engineer of record decides.", cost.Consequence.Statement, StringComparison.Ordinal);
        Assert.Equal(Verdict.NotMet, Cover(measured).Limit("cover.increase", "3/8").Finding("close-up.cover", cost.Subject).Verdict);
    }

    [Fact]
    public void Of_a_cover_that_is_met_or_of_which_too_little_is_known_nothing_is_said()
    {
        Assert.Empty(Costs(Cover("1 1/2")));
        Assert.Empty(Costs(Cover("2")));
        var deep = Cover("2 1/4").Limit("cover.increase", "3/8");
        Assert.Empty(Costs(deep.Change<DrawingApproved>(d => d with { Bars = [d.Bars[0] with { DepthIn = null }] })));
        Assert.Empty(Costs(deep.Change<DrawingApproved>(d => d with { Bars = [d.Bars[0] with { SpacingIn = null }] })));
        Assert.Empty(Costs(deep.Change<DrawingApproved>(d => d with { Bars = [d.Bars[0] with { Size = "W10" }] })));
        Assert.Empty(Costs(Cover("9").Limit("cover.increase", "3/8")));
        Assert.Empty(Costs(deep.Without<CloseUpInspected>()));
    }

    [Fact]
    public void No_calculation_of_strength_is_part_of_a_judgement() =>
        Assert.DoesNotContain(Cover("2 1/4").Limit("cover.increase", "3/8").Judge().Findings, f => (f.Reason + f.Observed + f.Clear).Contains("kip", StringComparison.Ordinal));

    private static readonly string Ticket = Good.The<BatchTicketed>().Batch.Ticket;

    private static UnitCase Weighed(string limit, string sand, string sandBatched, string stone, string stoneBatched, string? capacity = "10000", IReadOnlyList<string>? order = null) =>
        Good.Limit("batch.aggregate.cumulative", limit).Change<BatchTicketed>(t => t.Batch.Ticket != Ticket ? t : t with
        {
            ChargingOrder = order,
            Ingredients =
            [
                .. t.Ingredients.Where(i => i.Material is not (Material.FineAggregate or Material.CoarseAggregate)),
                new Weighed(Material.FineAggregate, "sand", R(sand), R(sandBatched), capacity is null ? null : R(capacity), R("5"), R("1")), new Weighed(Material.CoarseAggregate, "stone", R(stone), R(stoneBatched), capacity is null ? null : R(capacity), R("1"), R("1")),
            ],
        });

    [Theory]
    [InlineData("600", "618", Verdict.Met)]
    [InlineData("600", "618.1", Verdict.NotMet)]
    [InlineData("2500", "2530", Verdict.Met)]
    [InlineData("2500", "2530.1", Verdict.NotMet)]
    [InlineData("3000", "2970", Verdict.Met)]
    [InlineData("3000", "2969.9", Verdict.NotMet)]
    [OutsideCheck("Verdict on cumulative sand of 600, 2,500 and 3,000 lb on a 10,000 lb scale", "+-18, +-30, +-30 lb", "ASTM C94/C94M, cumulative weighing", SourceMark.Memory)]
    public void Aggregates_weighed_one_onto_the_other_are_judged_by_the_sum(string sand, string batched, Verdict expected) =>
        Assert.Equal(expected, Weighed("1", sand, batched, "4000", "4000").Verdict("place.aggregates-cumulative", Ticket + "/" + Date + " up to sand"));

    private static string Date => Good.The<BatchTicketed>().Batch.Date.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture);

    [Fact]
    public void A_later_aggregate_may_make_up_for_an_earlier_one_and_the_order_of_charging_counts()
    {
        var unit = Weighed("1", "3000", "3030", "4000", "3970");
        Assert.Equal(Verdict.Met, unit.Verdict("place.aggregates-cumulative", $"{Ticket}/{Date} up to stone"));
        Assert.Equal(Verdict.NotMet, Weighed("1", "3000", "3071", "4000", "4000").Verdict("place.aggregates-cumulative", $"{Ticket}/{Date} up to stone"));
        Assert.Equal(Verdict.NotMet, Weighed("1", "600", "620", "4000", "3990").Verdict("place.aggregates-cumulative", $"{Ticket}/{Date} up to sand"));
        Assert.Equal(Verdict.Met, Weighed("1", "600", "620", "4000", "3990", order: ["stone", "sand"]).Verdict("place.aggregates-cumulative", $"{Ticket}/{Date} up to sand"));
        Assert.Equal(Verdict.NotApplicable, unit.Verdict("place.batch-weights", $"{Ticket}/{Date} sand"));
    }

    [Fact]
    public void Cumulative_weighing_is_asked_by_the_profile_and_needs_the_scale()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("place.aggregates-cumulative"));
        Assert.Equal(Verdict.NotApplicable, Weighed("0", "600", "600", "4000", "4000").Verdict("place.aggregates-cumulative"));
        Assert.Equal(Verdict.Missing, Weighed("1", "600", "600", "4000", "4000", null).Verdict("place.aggregates-cumulative", $"{Ticket}/{Date} up to sand"));
    }
}
