using System.Text.RegularExpressions;
using Traceability.Core.Events;
using Traceability.Core.Quantities;
using Traceability.Core.Records;
using Traceability.Service.Packets;
using Fact = Xunit.FactAttribute;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Tests.Packets;

/// <summary>What a packet says of facts beside the plain way of a unit, and what it never says.</summary>
public sealed class PacketContentTests
{
    private const string Unit = "RF-0001", Other = "XX-9001";

    private static readonly DateTimeOffset Noon = new(2026, 3, 10, 12, 0, 0, TimeSpan.FromHours(-5));

    private static Reading R(string text) => Reading.Parse(text);

    private static T The<T>(IReadOnlyList<Record> records) where T : IFact => records.Select(r => r.Fact).OfType<T>().First();

    private static string Text(Func<IReadOnlyList<Record>, IEnumerable<IFact>> also, Func<IFact, IFact?>? change = null, params IFact[] first)
    {
        var story = PacketCase.Of(change: change, also: also, first: first);
        var packet = story.Build(story.Request());
        using var folder = new PacketFolder(packet);
        Assert.Contains("No syntax", folder.Good("qpdf", "--check", Packet.Pdf), StringComparison.Ordinal);
        // In the order it was drawn, so that the lines of a cell stand together.
        return Regex.Replace(folder.Good("pdftotext", "-raw", Packet.Pdf, "-"), @"\s+", " ");
    }

    private static void Says(string text, params string[] expected) => Assert.All(expected, e => Assert.Contains(e, text, StringComparison.Ordinal));

    [Fact]
    public void The_acts_of_the_agency_stand_with_their_letters_times_and_conditions()
    {
        var text = Text(_ =>
        [
            new NoticeGiven([Unit], HoldKind.Pour, Noon, "invented message 12"),
            new AgencyPresent([Unit], HoldKind.Pour, "came at seven"),
            new AgencyWitnessed(Unit, HoldKind.Strip, "saw the strip set broken"),
            new AgencyHoldReleased(Unit, HoldKind.CloseUp, "invented letter A-1"),
            new AgencyWaived([Unit], HoldKind.Ship, Noon, Noon.AddHours(6), "invented letter W-2", Conditions: "photographs are kept"),
            new UnitStamped(Unit, "S-4711"),
            new AgencyAccepted(Unit, [new("close-up.cover")], "invented letter L-3", new DateOnly(2026, 3, 9), "no further units like it"),
        ]);

        Says(text, "invented message 12", "came at seven", "saw the strip set broken", "invented letter A-1", "invented letter W-2; from 2026-03-10 12:00 -05:00 until 2026-03-10 18:00 -05:00",
            "on condition: photographs are kept", "stamp S-4711", "invented letter L-3 of 2026-03-09; on condition: no further units like it");
    }

    [Fact]
    public void A_release_by_telephone_stands_with_its_words_until_it_is_confirmed_and_a_stranger_s_act_as_one_that_does_not_count()
    {
        var call = new AgencyHoldReleased(Unit, HoldKind.Pour, Telephone: new("p-201", Noon, "go ahead as agreed"));
        var due = Text(_ => [call, new InspectorAssigned("p-101", "Another Invented Agency", new DateOnly(2026, 1, 1)), new UnitStamped(Unit, "S-4712")]);
        Says(due, "by telephone, p-201 at 2026-03-10 12:00 -05:00: \"go ahead as agreed\"; CONFIRMATION DUE", "DOES NOT COUNT: p-101 was not an inspector of");
        var confirmed = Text(_ => [call, new AgencyHoldReleased(Unit, HoldKind.Pour, "invented letter A-2", LetterSha256: new string('a', 64))]);
        Says(confirmed, "\"go ahead as agreed\"; confirmed", "entered from the letter with SHA-256 " + new string('a', 8));
    }

    [Theory]
    [InlineData(-2, "before it began")]
    [InlineData(2, "APPROVED AFTER IT BEGAN")]
    public void A_nonconformance_shows_its_disposition_its_approval_and_whether_that_came_before_the_repair(int approvedHours, string expected)
    {
        var text = Text(_ =>
        [
            new NonconformanceRaised("NC-7", [Unit, Other], NonconformanceClass.Minor, false, "honeycomb at the invented corner", "close-up.cover"),
            new NonconformanceDisposed("NC-7", DispositionKind.Repair, "chip out and patch by procedure P-3"),
            new NonconformanceApproved("NC-7", Approver.EngineerOfRecord, "invented letter E-9", Noon.AddHours(approvedHours), []),
            new UnitRepaired(Unit, "P-3", Noon, Noon.AddHours(1), "NC-7"),
            new NonconformanceClosed("NC-7", "looked at and good"),
        ]);

        Says(text, "Nonconformance NC-7", "minor, not structural: honeycomb at the invented corner", "repair: chip out and patch by procedure P-3", "by the engineer of record, letter invented letter E-9", expected, "looked at and good");
        Assert.DoesNotContain(Other, text, StringComparison.Ordinal);
    }

    [Fact]
    public void Dimensions_as_cast_stand_as_numbers_beside_what_was_specified_with_their_difference()
    {
        var text = Text(records =>
        {
            var specified = The<DrawingApproved>(records).Dimensions[0];
            return [new AsCastInspected(Unit, [new(specified.Name, Reading.Of(specified.SpecifiedIn.Value + 0.25m))], true, ["TAPE-1"], "measured at noon")];
        });

        Says(text, "Inspected as cast", "+0.25 in", "measured at noon", "Tolerance as judged");
        // The tolerance and its finding stand beside the figure.
        Assert.Matches(@"\+0\.25 in [\d ./]+ in specified, at least [\d./ ]+ in(, at most [\d./ ]+ in)? (met|NOT MET)", text);
    }

    [Fact]
    public void Cracks_and_defects_stand_with_their_sizes_and_a_unit_that_was_looked_at_without_any_says_so()
    {
        Says(Text(_ => [new CracksMapped(Unit, [new("leg, outer face", R("0.006"), R("14"), true)], [new("soffit", DefectKind.Honeycomb, R("3/8"), R("22"))])]),
            "leg, outer face", "crack, at a bearing or joint", "0.006 in", "14 in", "honeycomb", "3/8 in", "22 in²");
        Says(Text(_ => [new CracksMapped(Unit, [], [])]), "Looked at, and none was seen.");
    }

    [Fact]
    public void Cores_stand_with_place_load_strength_and_whether_tester_and_machine_were_valid()
    {
        var text = Text(records =>
        {
            var machine = The<CylinderBroken>(records).Machine;
            return [new CoreTaken("C-1", Unit, "leg, mid height", "S-X"), new CoreBroken("C-1", R("3.72"), R("3.74"), R("7.44"), R("65000"), 3, machine, R("7"))];
        });

        Says(text, "Cores of this unit", "leg, mid height; for the low test of sample S-X", "65000 lbf", "conditioned 7 days", "NOT VALID: no certificate as strength testing technician is recorded for p-101");
    }

    [Fact]
    public void Lots_of_a_silo_are_possible_and_lots_named_on_the_ticket_are_certain()
    {
        LotId one = new("Invented Cement Works", "C-1"), two = new("Invented Cement Works", "C-2");
        IFact Silo(IFact f) => f is BatchTicketed b ? b with { Ingredients = [.. b.Ingredients.Select(i => i.Material == Material.Cement ? i with { Lot = null, Storage = "SILO-1" } : i)] } : f;

        Says(Text(_ => [], Silo, new StorageFilled("SILO-1", one, Material.Cement)), "Materials drawn from a storage: the lots that are possible", "SILO-1", "Invented Cement Works / C-1", "the only lot that can have been in it");
        Says(Text(_ => [], Silo, new StorageFilled("SILO-1", one, Material.Cement), new StorageFilled("SILO-1", two, Material.Cement)), "Invented Cement Works / C-1 Invented Cement Works / C-2", "any of these may be in the batch");
        Assert.DoesNotContain("Invented Cement Works / C-1", Text(_ => [], Silo, new StorageFilled("SILO-1", one, Material.Cement), new StorageEmptied("SILO-1", "looked into"), new StorageFilled("SILO-1", two, Material.Cement)), StringComparison.Ordinal);
    }

    [Fact]
    public void Bars_from_a_rack_name_the_heats_that_are_possible()
    {
        LotId heat = new("Invented Mill", "H-9");
        var text = Text(_ => [], f => f is CageTied c ? c with { Bars = [c.Bars[0] with { Lots = [], Rack = "RACK-4" }, .. c.Bars.Skip(1)] } : f, new StorageFilled("RACK-4", heat, Material.Bar));

        Says(text, "no tag read", "rack RACK-4; possible: Invented Mill / H-9", "Heats that may be in this unit");
    }

    [Fact]
    public void A_sampling_lot_names_how_it_is_made_up_and_drawn_and_no_unit_that_is_not_in_the_packet()
    {
        var text = Text(_ =>
        [
            new SamplingLotDefined("SL-1", SamplingBasis.UnitGroup, "SCC-6000", [Unit, Other, "XX-9002"], true),
            new RandomNumberDrawn("SL-1", "table of random numbers, page 2", "0.4471", "second load"),
        ]);

        Says(text, "Sampling lots this unit belongs to", "unit group", "RF-0001 and 2 units not in this packet", "number 0.4471: second load", "table of random numbers, page 2");
        Assert.DoesNotContain(Other, text, StringComparison.Ordinal);
    }

    [Fact]
    public void Every_embedded_item_of_steel_has_a_line_in_the_domestic_statement()
    {
        LotId lot = new("Invented Insert Works", "L-77");
        var text = Text(records =>
        {
            var drawing = The<DrawingApproved>(records);
            return
            [
                new InsertsFixed(Unit, "F-24", [new(drawing.Embeds[0].Item, drawing.Embeds[0].Count, lot)]),
                new LotCertified(lot, "CT-1", "ASTM A-invented", "2020", "36", new DateOnly(2026, 1, 5), MeltedIn: "US", ManufacturedIn: "US"),
            ];
        });

        Says(text, "Domestic statement for every embedded item of steel", "Invented Insert Works / L-77", "no lot recorded");
        var statement = text[text.IndexOf("Domestic statement for every", StringComparison.Ordinal)..];
        var drawn = PacketCase.Of().Records.Select(r => r.Fact).OfType<DrawingApproved>().First();
        Assert.All(drawn.Bars, b => Assert.Contains("bars " + b.BarMark, statement, StringComparison.Ordinal));
        Assert.All(drawn.Embeds, e => Assert.Contains(e.Item, statement, StringComparison.Ordinal));
    }

    [Fact]
    public void Conventional_concrete_shows_its_slump_and_dry_cast_neither_slump_nor_flow()
    {
        var slump = Text(_ => [], f => f is SampleTested s ? s with { FlowIn = null, StabilityIndex = null, SlumpIn = R("4 1/4") } : f);
        Says(slump, "Slump 4 1/4 in (108.0 mm)");
        Assert.DoesNotContain("Slump flow, two diameters", slump, StringComparison.Ordinal);
        var dry = Text(_ => [], f => f switch { SampleTested s => s with { FlowIn = null, StabilityIndex = null }, MixApproved m => m with { DryCast = true, TargetFlowIn = null }, _ => f });
        Says(dry, "The mix is dry-cast", "Slump or slump flow not taken");
    }

    [Fact]
    public void Delivery_and_its_documents_stand_and_what_the_receiver_noted()
    {
        var text = Text(_ =>
        [
            new DeliveryLoaded("D-0311", "T-12", [Unit, Other]),
            new LoadCertificateIssued("D-0311", [Unit], new string('a', 64)),
            new DeliveryDelivered("D-0311", [Unit, Other], "an invented receiver"),
            new ExceptionNoted("D-0311", Unit, "chipped corner"),
        ]);

        Says(text, "delivery D-0311, truck T-12", "load certificate issued", "received by an invented receiver", "EXCEPTION noted by the receiver", "chipped corner");
        Assert.DoesNotContain(Other, text, StringComparison.Ordinal);
    }

    [Fact]
    public void Allocation_recasting_and_fitting_are_told_without_units_of_other_contracts()
    {
        var text = Text(_ =>
        [
            new UnitRecast(Unit, Other, "dropped in the yard"),
            new UnitFitted(Unit, Other, R("3/16"), true),
            new UnitRemarked(Unit, "C-7741", "RF24B", "renamed by the engineer"),
        ]);

        Says(text, "cast in place of a unit that is not in this packet: dropped in the yard", "to a unit that is not in this packet: widest gap 3/16 in", "given mark RF24B of contract C-7741");
        Assert.DoesNotContain(Other, text, StringComparison.Ordinal);
    }

    [Fact]
    public void No_page_speaks_of_form_pressure_forecasts_chances_or_people_beyond_their_ids()
    {
        var text = Text(records => [new FormInspected(The<UnitScheduled>(records).Form, "24 ft", [], true, false, [], R("850"))]);

        Assert.DoesNotMatch("(?i)forecast|probab|chance of|badge|psf|pressure of the concrete|errors of this person|alarm", text);
    }
}
