using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Tests.Judging;
using Traceability.PlantSimulator.Story;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Profiles;

/// <summary>A unit under an invented agency that asks nearly everything that can be asked before and while concrete is placed.</summary>
public sealed class EverythingAskedTests
{
    private const string South = "invented-south@1";

    private static readonly LotId Insert = new("insert-maker", "L-22");

    private static UnitCase Asked(UnitCase unit) => unit.Change<ProfilePublished>(p => ProfileFile.Shipped(South) with { Profile = p.Profile, Version = p.Version });

    /// <summary>The good unit with every fact that this agency asks besides.</summary>
    private static UnitCase Complete()
    {
        var (closeUp, poured, sampled) = (Good.RecordOf<CloseUpInspected>().OccurredAt.At, Good.The<PourPlaced>(), Good.The<SampleTested>());
        var form = Good.The<CloseUpInspected>().Form;
        var drawing = Good.The<DrawingApproved>();
        var tickets = Good.Records.Select(r => r.Fact).OfType<BatchTicketed>().ToList();
        var day = tickets[0].Batch.Date;
        var unit = Asked(Good)
            .Change<CloseUpInspected>(c => c with { Covers = [.. c.Covers.Select(r => r with { DepthIn = drawing.Bars.First(b => b.BarMark == r.BarMark).DepthIn })] })
            .Change<MixApproved>(m => m with { DensityLbFt3 = R("142") })
            .Change<SampleTested>(s => s with
            {
                FirstPortionAt = s.SampledAt, LastPortionAt = s.SampledAt.AddMinutes(3), TestsStartedAt = s.SampledAt.AddMinutes(5),
                DensityLbFt3 = R("142"), T50S = R("3"), FlowIn = [R("26"), R("26")], JRingFlowIn = R("25"), ColumnTopLb = R("5.4"), ColumnBottomLb = R("5.6"),
            })
            .Change<LotCertified>(c => c.Size is null ? c with { ChloridePct = R("0.05") } : c)
            .Add(new FormInspected(form, "S-12", [], true, true, []), closeUp.AddDays(-4), "p-102")
            .Add(new SamplingLotDefined("SL-1", SamplingBasis.MixAndDay, tickets[0].Mix, [Unit], false, day), closeUp)
            .Add(new InsertsFixed(Unit, form, [.. drawing.Embeds.Select(e => new FixedItem(e.Item, e.Count, Insert))]), closeUp)
            .Add(Good.The<LotCertified>() with { Lot = Insert, CertificateNumber = "INS-22", Size = null, MeltedIn = "US", ManufacturedIn = "US" }, closeUp.AddDays(-9))
            .Add(new PlantApproved(tickets[0].Batch.Plant, "Invented Southern Port Authority", "precast", ApprovalStatus.Approved, day.AddDays(-90), day.AddDays(90), "invented letter"), closeUp.AddDays(-80))
            .Add(new ScaleChecked(tickets[0].Instruments![0], day.AddDays(-10), R("10000"), [new ScalePoint(R("5000"), R("5010"))]), closeUp.AddDays(-10))
            .Add(new WeatherRead([Unit], R("62"), false, R("60"), R("4")), poured.StartedAt);
        foreach (var ticket in tickets) unit = unit.Add(new LoadAccepted(ticket.Batch), ticket.ChargedAt.AddMinutes(7), "p-107");
        foreach (var (producer, material) in tickets.SelectMany(t => t.Ingredients).Select(i => (i.Lot!.Producer, i.Material)).Distinct())
            unit = unit.Add(new SourceApproved(producer, material, day.AddDays(-90), day.AddDays(90), "invented list of sources"), closeUp.AddDays(-80));
        return unit;
    }

    private static IReadOnlyList<Finding> Open(UnitCase unit) => [.. unit.Judge().Findings.Where(f => !f.Allows && f.Hold <= HoldKind.Place)];

    [Fact]
    public void With_every_fact_nothing_is_open_through_placing() => Assert.Empty(Open(Complete()).Select(f => $"{f.Requirement} {f.Subject}: {f.Verdict} {f.Reason}"));

    [Fact]
    public void Without_them_every_demand_is_open_by_its_own_requirement()
    {
        var open = Open(Asked(Good)).Select(f => f.Requirement).ToHashSet(StringComparer.Ordinal);
        Assert.Superset(new HashSet<string>(StringComparer.Ordinal)
        {
            "close-up.form-set-up", "pour.form-rated", "pour.sampling-plan", "pour.embeds-domestic", "place.form-pressure", "place.loads-accepted", "place.plant-approval", "place.sources-approved",
            "place.scales-checked", "place.chloride", "place.density", "place.self-consolidating", "place.sampled-in-time", "place.weather",
        }, open);
    }

    [Fact]
    public void Taking_away_any_one_record_never_closes_an_item_and_each_of_the_added_ones_opens_one()
    {
        var complete = Complete();
        foreach (var added in complete.Records.Skip(Good.Records.Count))
            Assert.True(Open(complete with { Records = [.. complete.Records.Where(r => r.Id != added.Id)] }).Count > 0, $"{added.Type} is asked and nothing misses it");
    }
}
