using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Units;

/// <summary>One box of the drawing.</summary>
/// <param name="Key">The subject, or null for a cylinder set, which has no page of its own.</param>
/// <param name="Judges">People and instruments that judged it.</param>
public sealed record LineageNode(string Id, string? Key, string Kind, string Title, string Note, int Column, int Row, IReadOnlyList<Subject> Judges);

/// <summary>One line of the drawing, from what is made to what it is made from or was judged by.</summary>
/// <param name="Possible">It may be so, it need not: through a storage.</param>
public sealed record LineageEdge(LineageNode From, LineageNode To, string Says, bool Possible);

/// <summary>
/// From a unit to its cage and heats, its batches and lots, its samples and cylinder sets, with what judged each. Pure.
/// </summary>
public sealed record Lineage(IReadOnlyList<LineageNode> Nodes, IReadOnlyList<LineageEdge> Edges)
{
    public int Columns => Nodes.Count == 0 ? 0 : Nodes.Max(n => n.Column) + 1;

    public int Rows => Nodes.Count == 0 ? 0 : Nodes.Max(n => n.Row) + 1;

    public static Lineage Of(UnitFile file)
    {
        var links = file.Entries.SelectMany(e => e.Links).Where(l => l.Kind is LinkKind.MadeFrom or LinkKind.JudgedBy && file.Reached.Contains(l.From) && file.Reached.Contains(l.To))
            .GroupBy(l => (l.From, l.Kind, l.To)).Select(g => g.First() with { Possible = g.All(l => l.Possible) }).ToLookup(l => l.From);
        var nodes = new Dictionary<string, LineageNode>(StringComparer.Ordinal);
        var edges = new List<LineageEdge>();
        var rows = new Dictionary<int, int>();

        LineageNode Node(string id, string? key, string kind, string title, string note, int column, IReadOnlyList<Subject> judges)
        {
            var row = rows[column] = rows.GetValueOrDefault(column, -1) + 1;
            return nodes[id] = new LineageNode(id, key, kind, title, note, column, row, judges);
        }

        LineageNode Visit(Subject subject, int column)
        {
            if (nodes.TryGetValue(subject.Key, out var seen)) return seen;
            var from = links[subject].ToList();
            var judges = from.Where(l => l.Kind == LinkKind.JudgedBy && l.To.Kind != "sample").Select(l => l.To).Order().ToList();
            var node = Node(subject.Key, subject.Key, subject.Kind, subject.Id, NoteOf(file, subject), column, judges);
            foreach (var link in from.Where(l => l.Kind == LinkKind.MadeFrom).OrderBy(l => Rank(l.To)).ThenBy(l => l.To))
                edges.Add(new(node, Visit(link.To, column + 1), "is made from", link.Possible));
            foreach (var link in from.Where(l => l.Kind == LinkKind.JudgedBy && l.To.Kind == "sample").OrderBy(l => l.To))
                edges.Add(new(node, Visit(link.To, column + 1), "is represented by", link.Possible));
            if (subject.Kind == "sample") Sets(file, subject, node);
            return node;
        }

        void Sets(UnitFile of, Subject sample, LineageNode node)
        {
            foreach (var set in of.Of<SampleTested>().Where(s => s.Fact.About == sample).SelectMany(s => s.Fact.Cylinders).GroupBy(c => c.Purpose).OrderBy(g => g.Key))
            {
                var marks = set.Select(c => c.Cylinder).ToHashSet(StringComparer.Ordinal);
                var broken = of.Of<CylinderBroken>().Where(b => b.Fact.About == sample && marks.Contains(b.Fact.Cylinder)).Select(b => b.Fact.Cylinder).Distinct().Count();
                var child = Node($"{sample.Key}/{set.Key}", null, "cylinder set", Pages.Words.Of(set.Key) + " set", $"{set.Count()} cylinders, {broken} broken", node.Column + 1, []);
                edges.Add(new(node, child, "has the cylinders", false));
            }
        }

        Visit(file.Unit, 0);
        return new(nodes.Values.OrderBy(n => n.Column).ThenBy(n => n.Row).ToList(), edges);
    }

    private static int Rank(Subject subject) => subject.Kind switch { "cage" => 0, "pour" => 1, "batch" => 2, _ => 3 };

    private static string NoteOf(UnitFile file, Subject subject) => subject.Kind switch
    {
        "unit" => file.Scheduled is { } s ? $"mark {s.Fact.Mark}, {s.Fact.Drawing} rev {s.Fact.Revision}" : "not scheduled",
        "lot" => file.Of<LotCertified>().LastOrDefault(c => c.Fact.About == subject) is { } c ? $"{c.Fact.Specification} {c.Fact.Grade}"
            : file.Of<LotReceived>().LastOrDefault(r => r.Fact.About == subject)?.Fact.Description ?? "no record of its own",
        "batch" => file.Of<BatchTicketed>().LastOrDefault(b => b.Fact.About == subject) is { } b ? $"{b.Fact.VolumeYd3} yd³, mix {b.Fact.Mix}" : "no ticket recorded",
        "cage" => file.Of<CageTied>().LastOrDefault(t => t.Fact.About == subject) is { } t ? $"{t.Fact.Bars.Sum(x => x.Count)} bars, rev {t.Fact.Revision}" : "tying not recorded",
        "pour" => file.Of<PourPlaced>().LastOrDefault(p => p.Fact.About == subject) is { } p ? $"{p.Fact.Rows.Count(r => r.Unit == file.Unit.Id)} placements" : "",
        "sample" => file.Of<SampleTested>().LastOrDefault(x => x.Fact.About == subject) is { } x ? $"{x.Fact.Cylinders.Count} cylinders" : "test not recorded",
        _ => "",
    };
}
