using Traceability.PlantSimulator.Story;
using System.Text.RegularExpressions;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Quantities;
using Traceability.Core.Records;
using Traceability.Service.Packets;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Packets;

public sealed class LoadCertificateTests
{
    private static IFact? Laboratory(IFact fact) => fact is BatchTicketed b ? b with { MoistureBasis = MoistureBasis.Laboratory } : fact;

    private static readonly Lazy<PacketCase> Clean = new(() => PacketCase.Of(units: 3, change: Laboratory));
    private static readonly Lazy<PacketCase> Provisional = new(() => PacketCase.Of(units: 2));

    private static CertificateRequest Request(PacketCase story, string? wording = null, params string[] units) => new(
        "plant-1", "D-0311", "T-12", 1, [.. (units.Length == 0 ? story.Story.Units : units).Select(u => new Dossier(Subject.Unit(u), story.Records.Count, story.Records, PlantStory.Time))],
        story.IssuedAt, "p-101", Guid.Parse("01959f6e-0000-7000-8000-000000000001"), wording);

    private static (IReadOnlyList<string> Pages, byte[] Pdf, int Exceptions) Made(CertificateRequest request)
    {
        var (pdf, _, exceptions) = LoadCertificates.Make(request);
        using var folder = new PacketFolder(new Packet("LC", false, "", [], 0, [], null, [new(Packet.Pdf, pdf)]));
        Assert.Contains("No syntax", folder.Good("qpdf", "--check", Packet.Pdf), StringComparison.Ordinal);
        return (folder.Pages(), pdf, exceptions);
    }

    private static string Text(IEnumerable<string> pages) => Regex.Replace(string.Join('\n', pages), @"\s+", " ");

    private static PacketRefusedException Refused(CertificateRequest request) => Assert.Throws<PacketRefusedException>(() => LoadCertificates.Make(request));

    [Fact]
    public void It_names_units_marks_cast_dates_revisions_strengths_and_stamps()
    {
        var story = Clean.Value.With(new UnitStamped("RF-0001", "S-4711"));
        var (pages, _, exceptions) = Made(Request(story with { IssuedAt = story.IssuedAt.AddDays(1) }));
        var text = Text(pages);

        Assert.Equal(0, exceptions);
        foreach (var serial in story.Story.Units)
        {
            var unit = Assemble.Unit(new Dossier(Subject.Unit(serial), story.Records.Count, story.Records, PlantStory.Time));
            Assert.Contains(serial, text, StringComparison.Ordinal);
            Assert.Contains("mark " + unit.Scheduled!.Fact.Mark, text, StringComparison.Ordinal);
            Assert.Contains(unit.Placements.First().Pour.Fact.StartedAt.ToString("yyyy-MM-dd HH:mm", System.Globalization.CultureInfo.InvariantCulture), text, StringComparison.Ordinal);
            var strength = Judge.ByContract(unit, story.IssuedAt).Findings.First(f => f.Requirement == "ship.strength").Observed;
            Assert.Contains(Regex.Match(strength, @"mean \d+ psi").Value, text, StringComparison.Ordinal);
        }

        Assert.Contains("S-4711", text, StringComparison.Ordinal);
        Assert.Contains("not stamped", text, StringComparison.Ordinal);
        Assert.Contains("I certify under 712.10(b) that the units on this truck conform to the contract, that they reached", text, StringComparison.Ordinal);
        Assert.Contains("By p-101, quality engineer of the plant, signed with the PIN on", text, StringComparison.Ordinal);
        Assert.Contains("Received on site", text, StringComparison.Ordinal);
        Assert.Contains("Page 1 of", text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_truck_of_six_fits_on_two_sheets_in_black_and_white()
    {
        var (pages, pdf, _) = Made(Request(PacketCase.Of(units: 6)));
        Assert.InRange(pages.Count, 1, 2);
        using var folder = new PacketFolder(new Packet("LC", false, "", [], 0, [], null, [new(Packet.Pdf, pdf)]));
        folder.Good("pdftoppm", "-r", "40", Packet.Pdf, "sheet");
        foreach (var sheet in Directory.GetFiles(folder.Path, "*.ppm"))
        {
            // P6, width, height, 255, then three bytes a point.
            var bytes = File.ReadAllBytes(sheet);
            var start = Regex.Match(System.Text.Encoding.Latin1.GetString(bytes, 0, 40), @"\AP6\s\d+\s\d+\s255\s").Length;
            Assert.True(start > 0);
            for (var i = start; i + 2 < bytes.Length; i += 3) Assert.True(bytes[i] == bytes[i + 1] && bytes[i] == bytes[i + 2], $"{sheet} is coloured");
        }
    }

    [Fact]
    public void Worded_complete_it_is_refused_while_anything_is_to_be_listed_and_each_is_named()
    {
        var refused = Refused(Request(Provisional.Value, LoadCertificates.Complete));

        Assert.Contains("would certify that no item is open", Assert.Single(refused.Problems, p => p.Field == "wording").Limit, StringComparison.Ordinal);
        var (pages, _, exceptions) = Made(Request(Provisional.Value));
        var text = Text(pages);
        Assert.True(exceptions > 0);
        Assert.Contains("except as listed below", text, StringComparison.Ordinal);
        Assert.Contains("PROVISIONAL", text, StringComparison.Ordinal);
        Assert.DoesNotContain("that no item is open", text, StringComparison.Ordinal);
        Assert.Equal("wording", Assert.Single(Refused(Request(Clean.Value, LoadCertificates.WithExceptions)).Problems).Field);
    }

    [Fact]
    public void An_item_that_the_contract_does_not_allow_at_shipment_refuses_it_and_is_named()
    {
        var story = PacketCase.Of(change: f => Laboratory(f) is CloseUpInspected c ? c with { Covers = [c.Covers[0] with { CoverIn = Reading.Parse("1/2") }, .. c.Covers.Skip(1)] } : Laboratory(f));

        Assert.Contains(Refused(Request(story)).Problems, p => p.Field == "unit RF-0001" && p.Limit.Contains("NOT MET", StringComparison.Ordinal));
    }

    [Fact]
    public void A_unit_whose_ship_hold_was_not_released_does_not_go()
    {
        var story = PacketCase.Of(change: f => f is ShipReleased ? null : Laboratory(f));

        Assert.Contains(Refused(Request(story)).Problems, p => p.Limit.Contains("ship hold of RF-0001 is not released", StringComparison.Ordinal));
    }

    [Fact]
    public void A_rejected_unit_does_not_go()
    {
        var story = Clean.Value.With(new UnitRejected("RF-0001", "dropped in the yard"));

        Assert.Contains(Refused(Request(story with { IssuedAt = story.IssuedAt.AddDays(1) })).Problems, p => p.Limit.Contains("RF-0001 was rejected", StringComparison.Ordinal));
    }

    [Fact]
    public void It_is_not_signed_before_the_last_evidence_nor_on_limits_nobody_confirmed_nor_for_two_contracts()
    {
        var story = Clean.Value;
        Assert.Contains(Refused(Request(story) with { IssuedAt = story.Story.End.AddDays(-1) }).Problems, p => p.Field == "issuedAt" && p.Limit.Contains("before the last evidence", StringComparison.Ordinal));
        Assert.Contains(Refused(Request(PacketCase.Of(confirmed: false, change: Laboratory))).Problems, p => p.Field == "limit cover.reduction.soffit");
        var two = PacketCase.Of(units: 2, change: f => f is UnitScheduled { Unit: "RF-0002" } s ? s with { Contract = "C-8800" } : Laboratory(f));
        Assert.Contains(Refused(Request(two)).Problems, p => p.Limit.Contains("belong to 2 contracts", StringComparison.Ordinal));
    }
}
