using Traceability.Core.Events;

namespace Traceability.Service.Packets.Pages;

internal sealed partial class UnitPages
{
    private void CloseUp()
    {
        var inspection = File.Last<CloseUpInspected>()!;
        var fact = inspection.Fact;
        paper.Pairs(
        [
            ("Inspected", Figures.Time(inspection.At.At)), ("Inspector", packet.Person(inspection.Person)),
            ("Cage in the form", fact.Cage), ("Form", fact.Form),
            ("Instruments", Join(fact.Instruments)), ("Record", Line(inspection)),
            ("Spacers in place", Figures.YesNo(fact.SpacersInPlace)), ("Inserts in place", Figures.YesNo(fact.InsertsInPlace)),
            ("Lifters in place", Figures.YesNo(fact.LiftersInPlace)), ("Oil seen on steel", fact.OilOnSteel ? "YES" : "no"),
            ("Form oiled", File.Last<FormOiled>() is { } oiled ? $"{Figures.Time(oiled.At.At)}, {oiled.Fact.ReleaseAgent}, record {Line(oiled)}" : "not recorded"), ("Remarks", fact.Remarks ?? "none"),
        ]);
        if (fact.Bars.Count > 0)
        {
            paper.Heading("Bars as counted in the form");
            paper.Table([new("Bar mark", 0.14), new("Size", 0.1), new("Counted", 0.12, true), new("Drawn", 0.12, true), new("Spacing measured", 0.17, true), new("Spacing drawn", 0.17, true), new("Lap measured", 0.16, true), new("Lap drawn", 0.16, true)],
                [.. fact.Bars.Select(b =>
                {
                    var drawn = Drawn(b.BarMark);
                    return new Cell[] { b.BarMark, b.Size, Figures.Count(b.Count), drawn is null ? "not drawn" : Figures.Count(drawn.Count), Length(b.SpacingIn), Drawn(drawn?.SpacingIn), Length(b.LapIn), Drawn(drawn?.LapIn) };
                })]);
        }

        if (fact.Covers.Count == 0) return;
        paper.Heading("Concrete cover as measured");
        paper.Table([new("Place", 0.3), new("Bar mark", 0.14), new("Face", 0.16), new("Specified", 0.14, true), new("Measured", 0.14, true), new("Effective depth", 0.14, true)],
            [.. fact.Covers.Select(c =>
            {
                var drawn = Drawn(c.BarMark);
                return new Cell[] { c.Place, c.BarMark, drawn is null ? "not drawn" : Words.Of(drawn.Face), Drawn(drawn?.CoverIn), Length(c.CoverIn), Length(c.DepthIn) };
            })]);
    }

    private void PrePour()
    {
        var inspection = File.Last<PrePourInspected>()!;
        var fact = inspection.Fact;
        paper.Pairs(
        [
            ("Inspected", Figures.Time(inspection.At.At)), ("Inspector", packet.Person(inspection.Person)),
            ("Form", fact.Form), ("Form tight", Figures.YesNo(fact.FormTight)),
            ("Instruments", Join(fact.Instruments)), ("Record", Line(inspection)),
            ("Remarks", fact.Remarks ?? "none"), ("Drawing", File.Scheduled is { } s ? $"{s.Fact.Drawing} revision {s.Fact.Revision}" : "not recorded"),
        ]);
        if (fact.Dimensions.Count > 0)
        {
            paper.Heading("Dimensions as measured in the closed form");
            paper.Table([new("Dimension", 0.36), new("Kind", 0.16), new("Specified", 0.16, true), new("Measured", 0.16, true), new("Difference", 0.16, true)],
                [.. fact.Dimensions.Select(d =>
                {
                    var drawn = File.Drawing?.Fact.Dimensions.FirstOrDefault(x => x.Name == d.Name);
                    var difference = drawn is null ? (decimal?)null : d.MeasuredIn.Value - drawn.SpecifiedIn.Value;
                    return new Cell[]
                    {
                        d.Name, drawn is null ? "not drawn" : Words.Of(drawn.Kind), Drawn(drawn?.SpecifiedIn), Length(d.MeasuredIn),
                        difference is null ? "none to state" : (difference > 0 ? "+" : "") + Figures.Plain(difference.Value) + " in",
                    };
                })]);
        }

        if (fact.Embeds.Count == 0) return;
        paper.Heading("Cast-in items and openings");
        paper.Table([new("Item", 0.46), new("Drawn", 0.14, true), new("Found", 0.14, true), new("Placed as drawn", 0.2)],
            [.. fact.Embeds.Select(e => new Cell[]
            {
                e.Item, File.Drawing?.Fact.Embeds.FirstOrDefault(x => x.Item == e.Item) is { } drawn ? Figures.Count(drawn.Count) : "not drawn",
                Figures.Count(e.Count), e.PlacedAsDrawn ? "yes" : Cell.Strong("NO"),
            })]);
    }

    private BarLine? Drawn(string mark) => File.Drawing?.Fact.Bars.FirstOrDefault(d => d.BarMark == mark);

    private static Cell Length(Core.Quantities.Reading? value) =>
        value is { } v ? new Cell(Figures.Inch(v), Face.Regular, Figures.Millimetre(v)) : "not taken";

    private static Cell Drawn(Core.Quantities.Reading? value) =>
        value is { } v ? new Cell(Figures.Inch(v), Face.Regular, Figures.Millimetre(v)) : "not given";

    private static string Join(IReadOnlyList<string> items) => items.Count == 0 ? "none named" : string.Join(", ", items);
}
