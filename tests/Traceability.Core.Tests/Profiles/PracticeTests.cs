using Traceability.Core.Concrete;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Tests.Judging;
using Traceability.PlantSimulator.Story;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Profiles;

/// <summary>Habits of plants against the baseline and the invented plant: they are met by it, and an unusual figure is read and judged, never refused.</summary>
public sealed class PracticeTests
{
    private static readonly ProfilePublished Baseline = ProfileFile.Baseline();

    private static decimal Limit(string key) => Baseline.Limits.Single(l => l.Key == key).Value.Value;

    private static int Cylinders(CylinderPurpose purpose) => Good.The<SampleTested>().Cylinders.Count(c => c.Purpose == purpose);

    [Fact]
    [OutsideCheck("Cylinders of a sample by purpose: strip, ship, acceptance", "2 to 4, 2 to 3, 2 to 3", "Habit of precast plants", SourceMark.CommonPractice)]
    public void Usual_counts_of_cylinders_are_enough_for_the_baseline_and_are_what_the_invented_plant_makes()
    {
        foreach (var (habit, purpose, limit) in new[]
        {
            (Practice.StripCylinders, CylinderPurpose.Strip, "strip.cylinders"), (Practice.ShipCylinders, CylinderPurpose.Ship, "ship.cylinders"), (Practice.AcceptanceCylinders, CylinderPurpose.Acceptance, "acceptance.cylinders.6x12"),
        })
        {
            Assert.True(habit.Least >= Limit(limit));
            Assert.True(habit.IsUsual(Cylinders(purpose)), purpose.ToString());
        }

        Assert.Equal(Practice.AcceptanceCylinders.Most, Limit("acceptance.cylinders.4x8"));
    }

    [Fact]
    [OutsideCheck("Ages at which sets are broken: strip the next morning, ship within two weeks, acceptance at 28 days", "12 to 24 h, 3 to 14 days, 28 to 56 days", "Habit of precast plants", SourceMark.CommonPractice)]
    public void Sets_are_broken_at_their_usual_ages()
    {
        var moulded = Good.The<SampleTested>().MouldedAt;
        decimal Hours(CylinderPurpose purpose)
        {
            var marks = Good.The<SampleTested>().Cylinders.Where(c => c.Purpose == purpose).Select(c => c.Cylinder).ToHashSet(StringComparer.Ordinal);
            return (decimal)(Good.Records.Where(r => r.Fact is CylinderBroken b && marks.Contains(b.Cylinder)).Select(r => r.OccurredAt.At).Min() - moulded).TotalHours;
        }

        Assert.True(Practice.StripAge.IsUsual(Hours(CylinderPurpose.Strip)), $"{Hours(CylinderPurpose.Strip)} h");
        Assert.True(Practice.ShipAge.IsUsual(decimal.Round(Hours(CylinderPurpose.Ship) / 24)), $"{Hours(CylinderPurpose.Ship)} h");
        Assert.True(Practice.AcceptanceAge.IsUsual(decimal.Round(Hours(CylinderPurpose.Acceptance) / 24)), $"{Hours(CylinderPurpose.Acceptance)} h");
        Assert.Equal(Practice.AcceptanceAge.Least, Limit("acceptance.age"));
    }

    [Fact]
    [OutsideCheck("A low strip set: wait some hours and break again", "held by the first set, free by the second", "Habit of precast plants", SourceMark.CommonPractice)]
    public void A_low_strip_set_waits_and_is_broken_again()
    {
        var story = PlantStory.RigidFrame(12, 1, new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)), Mishaps.LowStripSet);
        var records = story.Facts.Select((f, i) => Recorded(f.Event, i + 1)).ToList();
        var strip = records.Where(r => r.Fact is SampleTested).SelectMany(r => ((SampleTested)r.Fact!).Cylinders.Where(c => c.Purpose == CylinderPurpose.Strip).Select(c => c.Cylinder)).ToHashSet(StringComparer.Ordinal);
        var breaks = records.Where(r => r.Fact is CylinderBroken b && strip.Contains(b.Cylinder)).Select(r => r.OccurredAt.At).Order().ToList();

        Verdict At(DateTimeOffset at) => new UnitCase([.. records.Where(r => r.OccurredAt.At <= at)], at).Verdict("strip.strength");
        var wait = breaks.Zip(breaks.Skip(1), (a, b) => b - a).Max();
        Assert.True(Practice.BreakAgain.IsUsual((decimal)wait.TotalHours), $"{wait}");
        var first = breaks[breaks.Zip(breaks.Skip(1), (a, b) => b - a).ToList().IndexOf(wait)];
        Assert.Equal((Verdict.NotMet, Verdict.Met), (At(first), At(breaks[^1])));
    }

    [Fact]
    [OutsideCheck("Validity of technicians' certificates and of instruments' calibrations", "5 years; 13 months for a compression machine; a year or less for the rest", "ACI certification programs; ASTM C39/C39M; habit of precast plants", SourceMark.CommonPractice)]
    public void Certificates_run_for_their_usual_periods()
    {
        Assert.Equal(Validity.TechnicianYears, Practice.TechnicianCertificate.Most);
        Assert.Equal(Validity.CompressionMachineMonths, Practice.MachineCertificate.Most);
        Assert.All(Good.Records.Select(r => r.Fact).OfType<PersonCertified>(), c => Assert.True(c.IssuedOn.AddYears((int)Practice.TechnicianCertificate.Most) >= c.ValidThrough));
        Assert.All(Good.Records.Select(r => r.Fact).OfType<InstrumentCalibrated>(), c => Assert.True(c.CalibratedOn.AddMonths(c.Kind switch
        {
            InstrumentKind.CompressionMachine => (int)Practice.MachineCertificate.Most,
            InstrumentKind.Scale => (int)Practice.ScaleCertificate.Most,
            InstrumentKind.AirMeter => (int)Practice.AirMeterCertificate.Most,
            _ => (int)Practice.TapeCertificate.Most,
        }) >= c.ValidThrough, c.Instrument));
    }

    [Fact]
    [OutsideCheck("Stripped the next morning at 40 to 70 % of the design strength", "12 to 24 h; 3,000 of 5,000 psi", "Habit of precast plants", SourceMark.CommonPractice)]
    public void A_unit_is_stripped_the_next_morning_at_a_usual_share_of_its_strength()
    {
        var drawing = Good.The<DrawingApproved>();
        var age = Good.RecordOf<UnitStripped>().OccurredAt.At - Good.The<PourPlaced>().FinishedAt;

        Assert.True(Practice.StripShare.IsUsual(drawing.StripStrengthPsi.Value / drawing.DesignStrengthPsi.Value * 100));
        Assert.InRange((decimal)age.TotalHours, Practice.StripAge.Least, Practice.StripAge.Most + Practice.BreakAgain.Most);
    }

    [Fact]
    [OutsideCheck("Specified cover of the steel of a span", "1 to 2 in", "Habit of precast plants", SourceMark.CommonPractice)]
    public void Span_steel_has_its_usual_cover_and_another_is_read_and_judged()
    {
        Assert.All(Good.The<DrawingApproved>().Bars.Where(b => b.Face == CoverFace.FormedSoffit), b => Assert.True(Practice.SpanCover.IsUsual(b.CoverIn.Value)));
        Assert.False(Practice.SpanCover.IsUsual(3));

        var odd = Good.Change<DrawingApproved>(d => d with { Bars = [.. d.Bars.Select(b => b.Face == CoverFace.FormedSoffit ? b with { CoverIn = R("3") } : b)] });

        Assert.Equal(Verdict.NotMet, odd.Verdict("close-up.cover", "soffit"));
    }

    [Fact]
    [OutsideCheck("Release agent on reinforcement", "never", "Habit of precast plants", SourceMark.CommonPractice)]
    public void No_profile_that_the_core_carries_allows_oil_on_steel()
    {
        Assert.All(ProfileFile.AllShipped, d => Assert.DoesNotContain(ProfileFile.Shipped(d.Name).NotAsked ?? [], n => n.What.StartsWith("close-up.no-oil-on-steel", StringComparison.Ordinal)));
        Assert.Equal(Verdict.NotMet, Good.Change<CloseUpInspected>(i => i with { OilOnSteel = true }).Verdict("close-up.no-oil-on-steel"));
    }

    [Fact]
    [OutsideCheck("A haul of 75 minutes with a retarder under a limit of 90 minutes, and one of 100", "met; not met: a retarder moves no limit", "ASTM C94/C94M before C94/C94M-21, 10.7, and habit of precast plants", SourceMark.CommonPractice)]
    public void A_retarder_for_a_long_haul_leaves_the_limit_on_discharge_as_it_is()
    {
        Assert.True(Practice.RetarderFrom.Most < Limit("discharge.minutes"));
        Assert.True(Practice.InPlantDischarge.Most < Limit("discharge.minutes"));

        UnitCase Hauled(int minutes)
        {
            var ticket = Good.The<BatchTicketed>();
            return Good.Change<BatchTicketed>(t => t.Batch == ticket.Batch ? t with { Ingredients = [.. t.Ingredients, new Weighed(Material.Admixture, "retarder", R("3"), R("3"))] } : t)
                .Change<PourPlaced>(p => p with { FinishedAt = ticket.ChargedAt.AddMinutes(minutes), Rows = [.. p.Rows.Where(r => r.Batch == ticket.Batch)] });
        }

        Assert.Equal(Verdict.Met, Hauled(75).Verdict("place.discharge", Good.The<BatchTicketed>().About.Key));
        Assert.Equal(Verdict.NotMet, Hauled(100).Verdict("place.discharge", Good.The<BatchTicketed>().About.Key));
    }

    [Theory]
    [InlineData(0.5)]
    [InlineData(1)]
    [InlineData(2)]
    [OutsideCheck("Flake calcium chloride of a winter bag, 0.5 to 2 % of cementitious materials, in reinforced work exposed to chlorides", "more than 0.15 % chloride at every usual dose", "ACI 318-19, Table 19.3.2.1; ASTM D98 from memory", SourceMark.Memory)]
    public void No_usual_dose_of_a_bagged_winter_accelerator_stays_under_the_chloride_limit(double dose)
    {
        Assert.True(Practice.WinterAccelerator.IsUsual((decimal)dose));
        Assert.True(Chloride.Pct(Chloride.OfProduct((decimal)dose, Chloride.FlakePct), 100) > Chloride.LargestPct(CorrosionClass.C2, prestressed: false));
    }

    [Fact]
    public void A_habit_refuses_nothing()
    {
        // One cylinder, broken within the hour, of a piece stripped at noon: bad news, and every fact of it is read.
        var odd = Good.Change<SampleTested>(s => s with { Cylinders = [s.Cylinders[0]], TemperatureF = R("120") })
            .Change<DrawingApproved>(d => d with { StripStrengthPsi = R("9000") });

        Assert.All(odd.Records, r => Assert.NotNull(r.Fact));
        Assert.Contains(odd.Judge().Findings, f => f.Verdict == Verdict.NotMet);
    }

    [Fact]
    public void Every_habit_has_a_name_a_range_and_a_mark()
    {
        Assert.Equal(Practice.All.Count, Practice.All.Select(h => h.Name).Distinct().Count());
        Assert.All(Practice.All, h => Assert.True(h is { Least: >= 0, What.Length: > 10, Source.Mark: not SourceMark.Recorded } && h.Least <= h.Most && h.IsUsual(h.Least) && h.IsUsual(h.Most) && !h.IsUsual(h.Most + 1)));
    }
}
