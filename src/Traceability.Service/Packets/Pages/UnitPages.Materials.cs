using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Packets.Pages;

internal sealed partial class UnitPages
{
    private void Identification()
    {
        var scheduled = File.Scheduled!;
        var drawing = File.Drawing;
        var contract = File.Contract;
        var cast = File.Placements.Select(p => p.Pour).DistinctBy(p => p.Id).ToList();
        paper.Pairs(
        [
            ("Serial", unit.Id), ("Mark", File.Assigned?.Mark ?? scheduled.Fact.Mark),
            ("Product", drawing?.Fact.Product ?? "not recorded"), ("Form (mould)", scheduled.Fact.Form),
            ("Contract", contract is null ? File.Assigned?.Contract ?? "stock" : $"{contract.Fact.Contract}, {contract.Fact.Title}"), ("Agency", contract?.Fact.Agency ?? "not recorded"),
            ("Cast to drawing", $"{scheduled.Fact.Drawing} revision {scheduled.Fact.Revision}"), ("Drawing approved", drawing is null ? "not recorded" : $"{Figures.Day(drawing.Fact.ApprovedOn)}, {drawing.Fact.ApprovalDocument}"),
            ("Mix", File.Mix is { } mix ? $"{mix.Fact.Mix}, {mix.Fact.Designation}" : scheduled.Fact.Mix), ("Pour planned for", Figures.Day(scheduled.Fact.PourOn)),
            ("Cast", cast.Count == 0 ? "not recorded" : string.Join("; ", cast.Select(c => $"{Figures.Time(c.Fact.StartedAt)} to {Figures.Clock(c.Fact.FinishedAt)}"))),
            ("Shipped", File.Last<UnitShipped>() is { } shipped ? Figures.Time(shipped.At.At) : "not recorded"),
            ("Limits judged by", File.Profile is { } profile ? $"{profile.Fact.Title} ({profile.Fact.About.Id})" : "no profile recorded"),
            ("Records", string.Join(" ", new[] { Line(scheduled), drawing is null ? "" : Line(drawing), contract is null ? "" : Line(contract) }.Where(s => s.Length > 0))),
        ]);
        if (drawing is not null)
        {
            paper.Table(
                [new("Strength required by the drawing", 0.4), new("At stripping", 0.2, true), new("At shipment", 0.2, true), new("Design", 0.2, true)],
                [["Compressive strength", Strength(drawing.Fact.StripStrengthPsi), Strength(drawing.Fact.ShipStrengthPsi), Strength(drawing.Fact.DesignStrengthPsi)]]);
        }

        Identity();
        var revisions = File.Of<DrawingApproved>().Where(d => d.Fact.Drawing == scheduled.Fact.Drawing).OrderBy(d => d.Fact.ApprovedOn).ToList();
        if (revisions.Count > 0)
        {
            paper.Heading($"Approved revisions of drawing {scheduled.Fact.Drawing} on record");
            paper.Table([new("Revision", 0.12), new("Approved on", 0.16), new("Approval document", 0.42), new("This unit", 0.2), new("Record", 0.1)],
                [.. revisions.Select(r => new Cell[]
                {
                    r.Fact.Revision, Figures.Day(r.Fact.ApprovedOn), r.Fact.ApprovalDocument,
                    r.Fact.Revision == scheduled.Fact.Revision ? Cell.Strong("cast to this revision") : "not this revision", Line(r),
                })]);
        }
    }

    /// <summary>What became of serial, mark and contract since the unit was scheduled.</summary>
    private void Identity()
    {
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            var what = entry.Fact switch
            {
                UnitAllocated f when Own(f.About) => $"stock unit allocated to contract {f.Contract} as mark {f.Mark}",
                UnitRemarked f when Own(f.About) => $"given mark {f.Mark} of contract {f.Contract}: {f.Reason}",
                UnitRecast f when Own(f.About) => $"cast in place of {Serial(f.InPlaceOf)}: {f.Reason}",
                UnitRecast f when f.InPlaceOf == unit.Id => $"its place is taken by {Serial(f.Unit)}: {f.Reason}",
                UnitReturned f when Own(f.About) => $"came back to the plant, {f.Place}: {f.Reason}",
                UnitRejected f when Own(f.About) => $"REJECTED by the plant: {f.Reason}",
                UnitDisposed f when Own(f.About) => $"disposed of: {f.How}; witness {packet.Person(f.Witness)}",
                _ => null,
            };
            if (what is not null) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), what, Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) return;
        paper.Heading("Allocation, re-marking, return, rejection");
        paper.Table([new("When, by whom", 0.24), new("What", 0.66), new("Record", 0.1)], rows);
    }

    private static Cell Strength(Core.Quantities.Reading psi) => new(Figures.Psi(psi.Value), Face.Regular, Figures.Megapascal(psi.Value));

    private void Steel()
    {
        var cage = File.Cage!;
        paper.Pairs(
        [
            ("Cage", cage.Fact.Cage), ("Tied", $"{Figures.Time(cage.At.At)}, record {Line(cage)}"),
            ("Tied to drawing", $"{cage.Fact.Drawing} revision {cage.Fact.Revision}"), ("Tied by", string.Join(", ", cage.Fact.Crew.Select(packet.Person))),
        ]);
        if (File.Scheduled is { } s && (s.Fact.Drawing != cage.Fact.Drawing || s.Fact.Revision != cage.Fact.Revision))
            paper.Notice("Revision differs", $"The cage was tied to {cage.Fact.Drawing} revision {cage.Fact.Revision}; the unit is scheduled to {s.Fact.Drawing} revision {s.Fact.Revision}.");
        paper.Heading("Bars in the cage and the heats they were taken from");
        paper.Table([new("Bar mark", 0.12), new("Size", 0.1), new("Tied", 0.09, true), new("Drawn", 0.09, true), new("Length each", 0.13, true), new("Nominal weight", 0.15, true), new("Heats (producer / number)", 0.34)],
            [.. cage.Fact.Bars.Select(b =>
            {
                var drawn = File.Drawing?.Fact.Bars.FirstOrDefault(d => d.BarMark == b.BarMark);
                return new Cell[]
                {
                    b.BarMark, b.Size, Figures.Count(b.Count), drawn is null ? "not drawn" : Figures.Count(drawn.Count),
                    Drawn(drawn?.LengthIn), Weighed(WeightLb(b)), HeatsOf(cage, b),
                };
            })]);
        paper.Paragraph($"Nominal weight of all bars: {(cage.Fact.Bars.All(b => WeightLb(b) is not null) ? Total(cage.Fact.Bars) : "cannot be stated, a length or size is not on record")}. Length as drawn, weight per foot of the size's nominal bar.", 7.6);
        paper.Heading("Heats of this unit, certificates and origin");
        paper.Table(HeatColumns, [.. Heats(File).Select(lot => HeatRow(lot, string.Join(", ", cage.Fact.Bars.Where(b => b.Lots.Contains(lot)).Select(b => b.BarMark))))]);
        var possible = cage.Fact.Bars.Where(b => b.Rack is not null).SelectMany(b => File.Contents(b.Rack!, cage.At).Select(f => (f.Fact.Lot, b.BarMark))).GroupBy(x => x.Lot).Where(g => !Heats(File).Contains(g.Key)).ToList();
        if (possible.Count > 0)
        {
            paper.Heading("Heats that may be in this unit: they were in a rack its bars were taken from");
            paper.Table(HeatColumns, [.. possible.Select(g => HeatRow(g.Key, string.Join(", ", g.Select(x => x.BarMark).Distinct(StringComparer.Ordinal))))]);
        }

        paper.Paragraph("The certificate of each heat is kept by the plant under the number given. The origin is what the certificate states; where it states none, none is claimed here. Received weight is that of the whole lot.", 7.2);
        CageHistory(cage);
        Domestic(cage);
    }

    /// <summary>The heats of bars: those read from their tags, and those a rack may have given.</summary>
    private Cell HeatsOf(Entry<CageTied> cage, TiedBars bars)
    {
        var certain = string.Join("; ", bars.Lots.Select(Words.Of));
        if (bars.Rack is not { } rack) return certain;
        var possible = File.Contents(rack, cage.At).Select(f => Words.Of(f.Fact.Lot)).Distinct(StringComparer.Ordinal).ToList();
        return new Cell(certain.Length == 0 ? "no tag read" : certain, certain.Length == 0 ? Face.Bold : Face.Regular,
            $"rack {rack}; possible: " + (possible.Count == 0 ? "nothing recorded in it" : string.Join("; ", possible)));
    }

    private void CageHistory(Entry<CageTied> cage)
    {
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            var what = entry.Fact switch
            {
                CageChecked f when f.Cage == cage.Fact.Cage => $"checked against its drawing: {(f.AsDrawn ? "as drawn" : "NOT AS DRAWN")}{(f.Remarks is { } r ? "; " + r : "")}",
                CageMoved f when f.Cage == cage.Fact.Cage => $"moved to {f.To}",
                CageSwapped f when Own(f.About) => $"cage {f.CageOut} taken out, cage {f.CageIn} put in: {f.Reason}",
                CageSet f when Own(f.About) => $"cage {f.Cage} set into form {f.Form}",
                _ => null,
            };
            if (what is not null) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), what, Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) return;
        paper.Heading("The cage until it was cast in");
        paper.Table([new("When, by whom", 0.24), new("What", 0.66), new("Record", 0.1)], rows);
    }

    /// <summary>Every steel item that stays in the unit, with its weight, its heats and the origin their certificates state.</summary>
    private void Domestic(Entry<CageTied> cage)
    {
        paper.Heading("Domestic statement for every embedded item of steel");
        var items = cage.Fact.Bars.Select(b => (Item: $"bars {b.BarMark}, {b.Size}, {Figures.Count(b.Count)}", Weight: Weighed(WeightLb(b)), b.Lots)).ToList();
        foreach (var item in File.Of<InsertsFixed>().Where(f => Own(f.Fact.About)).SelectMany(f => f.Fact.Items))
            items.Add(($"{item.Item}, {Figures.Count(item.Count)}", "not recorded", item.Lot is { } lot ? [lot] : []));
        foreach (var drawn in (File.Drawing?.Fact.Embeds ?? []).Where(e => !File.Of<InsertsFixed>().Any(f => f.Fact.Items.Any(i => i.Item == e.Item))))
            items.Add(($"{drawn.Item}, {Figures.Count(drawn.Count)} drawn", "not recorded", []));
        paper.Table([new("Item", 0.25), new("Nominal weight", 0.14, true), new("Heats or lots", 0.27), new("Origin as certified", 0.34)],
            [.. items.Select(i => new Cell[]
            {
                i.Item, i.Weight, i.Lots.Count == 0 ? Cell.Strong("no lot recorded") : string.Join("\n", i.Lots.Select(Words.Of)),
                i.Lots.Count == 0 ? Cell.Strong("none can be stated") : string.Join("\n", i.Lots.Select(l => Origin(File.Of<LotCertified>().LastOrDefault(c => c.Fact.Lot == l)?.Fact)).Distinct(StringComparer.Ordinal)),
            })]);
        paper.Paragraph("Stated for this unit alone. Whether the contract as a whole keeps to its domestic rules is tallied by the contract's engineer; the plant does not state it.", 7.2);
    }

    /// <summary>Count times drawn length times the nominal weight of the size; null where one of them is not known.</summary>
    private decimal? WeightLb(TiedBars bars) =>
        Drawn(bars.BarMark) is { } drawn && Core.Concrete.Bars.Nominal(bars.Size) is { } nominal ? Core.Concrete.Bars.WeightLb(nominal, bars.Count, drawn.LengthIn.Value / 12m) : null;

    private string Total(IEnumerable<TiedBars> bars)
    {
        var total = bars.Sum(b => WeightLb(b)!.Value);
        return $"{Figures.Pound(total)} ({Figures.Kilogram(total)})";
    }

    private static Cell Weighed(decimal? pounds) => pounds is { } lb ? new Cell(Figures.Pound(lb), Face.Regular, Figures.Kilogram(lb)) : "not known";

    private static readonly IReadOnlyList<Column> HeatColumns =
        [new("Heat (producer / number)", 0.19), new("Certificate, signed", 0.16), new("Specification, grade", 0.16), new("Yield / tensile / elongation", 0.17), new("Origin as certified", 0.14), new("Lot received", 0.1), new("Bar marks", 0.08)];

    private Cell[] HeatRow(LotId lot, string marks)
    {
        var certificate = File.Of<LotCertified>().LastOrDefault(c => c.Fact.Lot == lot);
        var received = File.Of<LotReceived>().LastOrDefault(r => r.Fact.Lot == lot);
        return
        [
            new(Words.Of(lot), Face.Bold, (certificate?.Fact.Size ?? received?.Fact.Size) is { } size ? $"size {size}; records {LotLine(lot)}" : $"records {LotLine(lot)}"),
            certificate is null ? Cell.Strong("MISSING") : new Cell(certificate.Fact.CertificateNumber, Face.Regular, Figures.Day(certificate.Fact.SignedOn)),
            certificate is null ? "not certified" : new Cell($"{certificate.Fact.Specification} {certificate.Fact.Grade}", Face.Regular, "edition " + certificate.Fact.Edition),
            certificate is null ? "not certified" : Properties(certificate.Fact),
            Origin(certificate?.Fact),
            received?.Fact.WeightLb is { } weight ? new Cell(Figures.Pound(weight), Face.Regular, Figures.Kilogram(weight)) : "not recorded",
            marks,
        ];
    }

    private static Cell Properties(LotCertified c) => c.YieldPsi is null && c.TensilePsi is null && c.ElongationPct is null
        ? "not stated"
        : new Cell($"{c.YieldPsi?.Text ?? "not stated"} / {c.TensilePsi?.Text ?? "not stated"} psi / {(c.ElongationPct is { } e ? Figures.Percent(e) : "not stated")}", Face.Regular,
            c.YieldPsi is { } y && c.TensilePsi is { } t ? $"{Figures.Megapascal(y.Value)} / {Figures.Megapascal(t.Value)}" : null);

    /// <summary>The origin a certificate states for melting and for all later processes.</summary>
    public static string Origin(LotCertified? certificate) => certificate is null
        ? "not certified"
        : $"melted in {Country(certificate.MeltedIn)}, manufactured in {Country(certificate.ManufacturedIn)}";

    /// <summary>The heats in the unit's cage, in the order the cage names them.</summary>
    public static IEnumerable<LotId> Heats(UnitFile file) => file.Cage?.Fact.Bars.SelectMany(b => b.Lots).Distinct() ?? [];

    private void ConcreteMaterials()
    {
        if (File.Mix is { } mix)
        {
            paper.Pairs(
            [
                ("Mix", $"{mix.Fact.Mix}, {mix.Fact.Designation}"), ("Approved", $"{Figures.Day(mix.Fact.ApprovedOn)}, {mix.Fact.ApprovalDocument}"),
                ("Valid through", mix.Fact.ValidThrough is { } through ? Figures.Day(through) : "no end stated"), ("Record", Line(mix)),
                ("Design strength", $"{Figures.Psi(mix.Fact.DesignStrengthPsi.Value)} ({Figures.Megapascal(mix.Fact.DesignStrengthPsi.Value)})"), ("Largest w/cm", mix.Fact.MaxWcm.Text),
                ("Target air", Figures.Percent(mix.Fact.TargetAirPct)), ("Target slump flow", mix.Fact.TargetFlowIn is { } flow ? $"{Figures.Inch(flow)} ({Figures.Millimetre(flow)})" : "none"),
                ("Largest aggregate", $"{Figures.Inch(mix.Fact.NmsaIn)} nominal ({Figures.Millimetre(mix.Fact.NmsaIn)})"), ("Batches", Words.Many(File.Batches.Count(), "batch", "batches")),
            ]);
        }
        else
        {
            paper.Paragraph("The approval of the mix is not recorded.");
        }

        FromStorages();
        var rows = File.Batches.SelectMany(b => b.Fact.Ingredients).GroupBy(i => (i.Material, i.Name, i.Lot)).Select(group =>
        {
            var (material, name, lot) = group.Key;
            var certificate = lot is null ? null : File.Of<LotCertified>().LastOrDefault(c => c.Fact.Lot == lot);
            return new Cell[]
            {
                Words.Of(material), name, lot is null ? "no lot named on the ticket" : Words.Of(lot),
                lot is null ? "none to name" : certificate is null ? Cell.Strong("no certificate recorded") : new Cell(certificate.Fact.CertificateNumber, Face.Regular, Figures.Day(certificate.Fact.SignedOn)),
                certificate is null ? "none" : $"{certificate.Fact.Specification}, {certificate.Fact.Edition}", lot is null ? "none" : LotLine(lot),
            };
        }).ToList();
        if (rows.Count == 0) return;
        paper.Heading("Materials in the batches of this unit");
        paper.Table([new("Material", 0.17), new("Name", 0.2), new("Lot (producer / number)", 0.22), new("Certificate, signed", 0.17), new("Specification", 0.14), new("Records", 0.1)], rows);
    }

    /// <summary>Materials that the tickets name by their silo, bin or tank: every lot that can have been in it is possible.</summary>
    private void FromStorages()
    {
        var rows = File.Batches.SelectMany(b => b.Fact.Ingredients.Where(i => i.Storage is not null).Select(i => (Batch: b, Material: Words.Of(i.Material), i.Name, Storage: i.Storage!))
                .Concat(b.Fact.WaterStorage is { } tank ? [(b, "water", "batch water", tank)] : []))
            .GroupBy(x => (x.Storage, x.Material, x.Name)).Select(g =>
            {
                var lots = g.SelectMany(x => File.Contents(x.Storage, x.Batch.At)).Select(f => f.Fact.Lot).Distinct().ToList();
                return new Cell[]
                {
                    g.Key.Material, g.Key.Name, g.Key.Storage, string.Join(", ", g.Select(x => x.Batch.Fact.Batch.Ticket).Distinct(StringComparer.Ordinal)),
                    lots.Count == 0 ? "no lot recorded in it" : new Cell(string.Join("\n", lots.Select(Words.Of)), Face.Regular, lots.Count == 1 ? "the only lot that can have been in it" : "any of these may be in the batch"),
                    lots.Count == 0 ? "none" : string.Join("\n", lots.Select(l => File.Of<LotCertified>().LastOrDefault(c => c.Fact.Lot == l)?.Fact.CertificateNumber ?? "no certificate recorded")),
                };
            }).ToList();
        if (rows.Count == 0) return;
        paper.Heading("Materials drawn from a storage: the lots that are possible");
        paper.Table([new("Material", 0.14), new("Name", 0.16), new("Storage", 0.14), new("Batch tickets", 0.16), new("Possible lots (producer / number)", 0.24), new("Certificates", 0.16)], rows);
    }

    private void PeopleAndInstruments()
    {
        var people = People().GroupBy(p => (p.Person, p.Duty, p.Need)).Select(g =>
        {
            var check = g.Key.Need is { } need ? g.Select(x => Matter().Certified(g.Key.Person, need, x.At)).OrderBy(c => c.Valid).First() : null;
            return new Cell[]
            {
                packet.Person(g.Key.Person), g.Key.Duty, string.Join(", ", g.Select(x => Figures.Day(DayOf(x.At))).Distinct().Order(StringComparer.Ordinal)),
                check is null ? "no certificate asked of this duty" : check.Valid ? Certificate(g.Key.Person, g.Key.Need!.Value, DayOf(g.First().At)) : Cell.Strong("NOT VALID: " + check.Words),
            };
        }).ToList();
        if (people.Count > 0)
        {
            paper.Heading("Personnel, with the certificate in force on the day of the work");
            paper.Table([new("Person", 0.16), new("Work", 0.28), new("On", 0.18), new("Certificate", 0.38)], people);
            paper.Paragraph("Persons are named by the plant's register numbers. The plant's register says who they are.", 7.2);
        }

        var instruments = Instruments().GroupBy(i => i.Instrument, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal).Select(g =>
        {
            var check = g.Select(x => Matter().InCalibration(x.Instrument, x.At)).OrderBy(c => c.Valid).First();
            var day = Core.Judging.Matter.DayOf(g.Max(x => x.At));
            var used = File.Of<InstrumentCalibrated>().LastOrDefault(c => c.Fact.Instrument == g.Key && c.Fact.CalibratedOn <= day && day <= c.Fact.ValidThrough);
            return new Cell[]
            {
                new(g.Key, Face.Bold, used is null ? null : Words.Of(used.Fact.Kind)), string.Join(", ", g.Select(x => x.Use).Distinct(StringComparer.Ordinal)),
                string.Join(", ", g.Select(x => Figures.Day(Core.Judging.Matter.DayOf(x.At))).Distinct().Order(StringComparer.Ordinal)),
                check.Valid && used is not null
                    ? new Cell($"{used.Fact.CertificateNumber}, {Figures.Day(used.Fact.CalibratedOn)} through {Figures.Day(used.Fact.ValidThrough)}", Face.Regular, $"valid on the day; record {Line(used)}")
                    : Cell.Strong("NOT VALID: " + check.Words),
            };
        }).ToList();
        if (instruments.Count == 0) return;
        paper.Heading("Instruments, with the calibration in force on the day of use");
        paper.Table([new("Instrument", 0.2), new("Used for", 0.24), new("On", 0.18), new("Calibration", 0.38)], instruments);
    }

    private Cell Certificate(string? person, Certification need, DateOnly day)
    {
        var held = File.Of<PersonCertified>().Last(c => c.Fact.Person == person && c.Fact.Certification == need && c.Fact.IssuedOn <= day && day <= c.Fact.ValidThrough);
        return new($"{Words.Of(need)}, {held.Fact.Issuer}", Face.Regular, $"{Figures.Day(held.Fact.IssuedOn)} through {Figures.Day(held.Fact.ValidThrough)}; record {Line(held)}");
    }

    private IEnumerable<(string? Person, string Duty, Certification? Need, Moment At)> People()
    {
        foreach (var e in File.Of<CloseUpInspected>()) yield return (e.Person, "inspection before the form closed", Certification.PlantInspector, e.At);
        foreach (var e in File.Of<PrePourInspected>()) yield return (e.Person, "inspection before the pour", Certification.PlantInspector, e.At);
        foreach (var e in File.Of<AsCastInspected>()) yield return (e.Person, "inspection as cast", Certification.PlantInspector, e.At);
        foreach (var e in File.Of<CoreBroken>()) yield return (e.Person, "compression tests of cores", Certification.StrengthTestingTechnician, e.At);
        foreach (var e in File.RepresentingSamples) yield return (e.Person, "tests of fresh concrete", Certification.FieldTestingTechnician, e.At);
        foreach (var e in Breaks().Select(b => b.Break)) yield return (e.Person, "compression tests", Certification.StrengthTestingTechnician, e.At);
        if (File.Cage is { } cage) yield return (cage.Person, "cage tied", null, cage.At);
        foreach (var e in File.Batches) yield return (e.Person, "batching", null, e.At);
        foreach (var e in File.Placements.Select(p => p.Pour).DistinctBy(p => p.Id)) yield return (e.Person, "placing", null, e.At);
        foreach (var e in File.Of<UnitStripped>()) yield return (e.Person, "stripping", null, e.At);
        foreach (var e in File.Of<UnitShipped>()) yield return (e.Person, "shipping", null, e.At);
    }

    private IEnumerable<(string Instrument, string Use, DateTimeOffset At)> Instruments()
    {
        foreach (var e in File.Of<CloseUpInspected>()) foreach (var i in e.Fact.Instruments) yield return (i, "inspection before the form closed", e.At.At);
        foreach (var e in File.Of<PrePourInspected>()) foreach (var i in e.Fact.Instruments) yield return (i, "inspection before the pour", e.At.At);
        foreach (var e in File.Batches) foreach (var i in e.Fact.Instruments ?? []) yield return (i, "batching", e.Fact.ChargedAt);
        foreach (var e in File.Of<AsCastInspected>()) foreach (var i in e.Fact.Instruments) yield return (i, "inspection as cast", e.At.At);
        foreach (var e in File.Of<CoreBroken>()) yield return (e.Fact.Machine, "compression tests of cores", e.At.At);
        foreach (var e in File.Of<InitialCureRecorded>()) foreach (var i in e.Fact.Instruments) yield return (i, "initial curing of cylinders", e.Fact.BeganAt);
        foreach (var e in File.RepresentingSamples) foreach (var i in e.Fact.Instruments) yield return (i, "tests of fresh concrete", e.Fact.SampledAt);
        foreach (var (e, _, _) in Breaks()) yield return (e.Fact.Machine, "compression tests", e.At.At);
        foreach (var e in File.Of<CureTemperatures>()) yield return (e.Fact.Probe, "curing temperatures", e.Fact.Readings[0].At);
    }

    private IEnumerable<(Entry<CylinderBroken> Break, Entry<SampleTested> Sample, CylinderCast Cylinder)> Breaks() =>
        Enum.GetValues<CylinderPurpose>().SelectMany(File.Breaks);

    private static string Country(string? code) => code is null ? "a country that is not stated" : Countries.Name(code);
}
