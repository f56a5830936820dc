using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Marten;
using Npgsql;
using NpgsqlTypes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Assembling;

namespace Traceability.Benchmarks;

/// <summary>
/// Fills an empty store with a plant of many units, by COPY: real records in their exact bytes, their links as Core states
/// them, and each unit's row, card and reach as the assembler would write them. Marten's own event table stays empty and
/// its numbering is set behind the last record; judgements are not kept. Facts that come afterwards go the whole way.
/// </summary>
internal sealed class Filling
{
    private const int UnitsPerBatch = 4, UnitsPerPour = 10;
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private readonly List<Record> _opening = [];
    private readonly Dictionary<Type, CloudEvent> _patterns = [];
    private readonly HashSet<Link> _links = [];
    private long _position;

    private Filling()
    {
        var story = PlantStory.RigidFrame(17, 1, PlantStory.StartFor(1, Now), key: "B");
        foreach (var fact in story.Facts.Select(f => f.Event))
        {
            _patterns.TryAdd(FactCatalog.All[fact.Type].Clr, fact);
            if (FactCatalog.Read(FactCatalog.All[fact.Type], fact.Data).About.Kind is "contract" or "profile" or "drawing" or "mix" or "person" or "instrument" or "lot")
                _opening.Add(Recorded(fact));
        }
    }

    /// <summary>A heat of ten thousand units, numbered from 0.</summary>
    public static Subject Heat(int n) => Subject.Lot("mill-a", $"BULK-H{n}");

    /// <summary>A cement lot of twenty thousand units, numbered from 0; each through five thousand batches.</summary>
    public static LotId Cement(int n) => new("cement-1", $"BULK-C{n}");

    public static string Serial(int n) => string.Create(CultureInfo.InvariantCulture, $"BULK-{n:D6}");

    public static string Batch(int unit) => string.Create(CultureInfo.InvariantCulture, $"B{unit / UnitsPerBatch:D6}");

    /// <summary>Fills the store and answers how many records it then holds.</summary>
    public static async Task<long> RunAsync(NpgsqlDataSource source, IDocumentStore store, int units)
    {
        var filling = new Filling();
        const int chunk = 2000;
        for (var from = 0; from < units; from += chunk)
        {
            var made = filling.Make(from, Math.Min(chunk, units - from), first: from == 0);
            await CopyAsync(source, made, from);
            await store.BulkInsertDocumentsAsync(made.Units.Select(u => u.Row));
            Console.Error.Write($"\r  {from + chunk} of {units} units");
        }

        Console.Error.WriteLine();
        await using var connection = await source.OpenConnectionAsync();
        foreach (var sql in new[]
        {
            $"select setval('marten.mt_events_sequence', {filling._position})",
            $"insert into marten.mt_event_progression (name, last_seq_id) select n, {filling._position} from unnest(array['HighWaterMark', 'MarkStale:All', 'LogLeaves:All']) n on conflict (name) do update set last_seq_id = excluded.last_seq_id",
            "select setval(pg_get_serial_sequence('trace.unit_card', 'no'), (select max(no) from trace.unit_card))",
            "vacuum analyze trace.record", "vacuum analyze trace.about", "vacuum analyze trace.link", "vacuum analyze trace.reach", "vacuum analyze trace.unit_card", "vacuum analyze marten.mt_doc_unitrow",
        })
        {
            await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 600 };
            await command.ExecuteNonQueryAsync();
        }

        return filling._position;
    }

    private sealed record Made(List<Record> Records, List<Link> Links, List<(UnitRow Row, UnitShipped? Shipped, IReadOnlyList<ReachedSubject> Reach)> Units);

    private Made Make(int from, int count, bool first)
    {
        var records = new List<Record>(first ? _opening : []);
        var units = new List<(UnitRow, UnitShipped?, IReadOnlyList<ReachedSubject>)>(count);
        var pour = new List<Record>();
        for (var start = from; start < from + count; start += UnitsPerPour)
        {
            var numbers = Enumerable.Range(start, Math.Min(UnitsPerPour, from + count - start)).ToList();
            pour.Clear();
            pour.AddRange(numbers.Select(n => n / UnitsPerBatch).Distinct().Where(b => b * UnitsPerBatch >= start).Select(b => Recorded(Ticket(b))));
            pour.Add(Recorded(Placed(numbers)));
            records.AddRange(pour);
            foreach (var n in numbers)
            {
                var own = Own(n).Select(Recorded).ToList();
                records.AddRange(own);
                // A pour's first units can share a batch with the pour before; its ticket is written again for the dossier only.
                var ticket = pour.Exists(r => r.Fact is BatchTicketed b && b.Batch.Ticket == Batch(n)) ? [] : new[] { Record.Read(Bytes(Ticket(n / UnitsPerBatch)), _position) };
                var dossier = new Dossier(Subject.Unit(Serial(n)), _position, [.. _opening, .. ticket, .. pour, .. own], PlantStory.Time);
                var file = Assemble.Unit(dossier);
                units.Add((UnitRow.Of(file, Judge.Unit(file, Now), _position, Now), file.Last<UnitShipped>()?.Fact, UnitReach.Of(dossier, file)));
            }
        }

        return new(records, [.. records.SelectMany(r => r.Links()).Where(l => l.Kind != LinkKind.About && _links.Add(l))], units);
    }

    private IEnumerable<CloudEvent> Own(int n)
    {
        yield return Made1<UnitScheduled>($"sch-{n}", f => f with { Unit = Serial(n), Mark = $"M-{n % 40}" });
        yield return Made1<CageTied>($"cage-{n}", f => f with
        {
            Cage = $"BULK-CG-{n}",
            Unit = Serial(n),
            Bars = [.. f.Bars.Select((b, i) => b with { Lots = [i == 0 ? new LotId("mill-a", $"BULK-H{n / 10_000}") : i == 1 ? new LotId("mill-b", $"BULK-S{n / 500}") : b.Lots[0]] })],
        });
        yield return Made1<UnitStripped>($"strip-{n}", f => f with { Unit = Serial(n), StoredAt = $"row {n % 60}, stack {n % 7}" });
        if (n % 2 == 0) yield return Made1<UnitShipped>($"ship-{n}", f => f with { Unit = Serial(n), Delivery = $"D-{n / 12}", Truck = $"T-{n % 9}", Destination = $"invented site {n / 5000}" });
    }

    private CloudEvent Ticket(int batch) => Made1<BatchTicketed>($"batch-{batch}", f => f with
    {
        Batch = f.Batch with { Ticket = string.Create(CultureInfo.InvariantCulture, $"B{batch:D6}") },
        Ingredients = [.. f.Ingredients.Select(i => i.Lot is null ? i : i with { Lot = i.Material == Material.Cement ? Cement(batch * UnitsPerBatch / 20_000) : i.Lot with { Number = $"{i.Lot.Number}-{batch / 250}" } })],
    });

    private CloudEvent Placed(List<int> numbers) => Made1<PourPlaced>($"pour-{numbers[0]}", f => f with
    {
        Pour = $"BULK-P-{numbers[0] / UnitsPerPour}",
        Rows = [.. numbers.Select(n => f.Rows[0] with { Unit = Serial(n), Batch = f.Rows[0].Batch with { Ticket = Batch(n) } })],
    });

    private CloudEvent Made1<T>(string id, Func<T, T> change) where T : IFact
    {
        var pattern = _patterns[typeof(T)];
        var fact = change((T)FactCatalog.Read(FactCatalog.All[pattern.Type], pattern.Data));
        return CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
        {
            ["specversion"] = "1.0", ["id"] = id, ["source"] = pattern.Source, ["type"] = pattern.Type, ["time"] = pattern.Time.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture),
            ["person"] = pattern.Person, ["clockoffsetms"] = 12, ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        }));
    }

    private Record Recorded(CloudEvent sent) => Record.Read(Bytes(sent), ++_position);

    private static byte[] Bytes(CloudEvent sent) => Record.Write(sent, sent.RecordId, "bench", "filled", sent.Time, sent.Time);

    private static async Task CopyAsync(NpgsqlDataSource source, Made made, int firstUnit)
    {
        await using var connection = await source.OpenConnectionAsync();
        await CopyAsync(connection, "trace.record (position, id, source, event_id, type, stream, content_hash, leaf_hash, bytes, device, person, occurred_at, recorded_at)", made.Records, async (row, r) =>
        {
            await row.WriteAsync(r.Position);
            await row.WriteAsync(r.Id);
            await row.WriteAsync(r.Sent.Source);
            await row.WriteAsync(r.Sent.Id);
            await row.WriteAsync(r.Type);
            await row.WriteAsync(r.Fact!.About.Key);
            await row.WriteAsync(r.Sent.ContentHash);
            await row.WriteAsync(Record.LeafHash(r.Bytes.Span));
            await row.WriteAsync(r.Bytes.ToArray());
            await row.WriteAsync(r.Device);
            await row.WriteAsync(r.Person);
            await row.WriteAsync(r.Sent.Time.UtcDateTime, NpgsqlDbType.TimestampTz);
            await row.WriteAsync(r.RecordedAt.UtcDateTime, NpgsqlDbType.TimestampTz);
        });
        await CopyAsync(connection, "trace.about (subject, position)", made.Records.SelectMany(r => r.Links().Where(l => l.Kind == LinkKind.About).Select(l => (l.From.Key, r.Position))), async (row, a) =>
        {
            await row.WriteAsync(a.Key);
            await row.WriteAsync(a.Position);
        });
        await CopyAsync(connection, "trace.link (from_subject, kind, to_subject, position, possible)", made.Links, async (row, l) =>
        {
            await row.WriteAsync(l.From.Key);
            await row.WriteAsync((short)l.Kind);
            await row.WriteAsync(l.To.Key);
            await row.WriteAsync(1L);
            await row.WriteAsync(l.Possible);
        });
        await CopyAsync(connection, "trace.unit_card (no, unit, phase, mark, contract, place, delivery, destination, position, reach)", made.Units.Select((u, i) => (No: firstUnit + i + 1, Unit: u)), async (row, u) =>
        {
            await row.WriteAsync(u.No);
            await row.WriteAsync(u.Unit.Row.Id);
            await row.WriteAsync(u.Unit.Row.Phase.ToString());
            await row.WriteAsync(u.Unit.Row.Mark);
            await row.WriteAsync(u.Unit.Row.Contract);
            await row.WriteAsync(u.Unit.Row.Place);
            await row.WriteAsync(u.Unit.Shipped?.Delivery);
            await row.WriteAsync(u.Unit.Shipped?.Destination);
            await row.WriteAsync(u.Unit.Row.Position);
            await row.WriteAsync(ReachRows.Fingerprint(u.Unit.Reach));
        });
        await CopyAsync(connection, "trace.reach (subject, unit_no, how, certain, named)", made.Units.SelectMany((u, i) => u.Reach.Select(r => (No: firstUnit + i + 1, Reach: r))), async (row, r) =>
        {
            await row.WriteAsync(r.Reach.Subject.Key);
            await row.WriteAsync(r.No);
            await row.WriteAsync((short)r.Reach.How);
            await row.WriteAsync(r.Reach.Certain);
            await row.WriteAsync(r.Reach.Named);
        });
    }

    private static async Task CopyAsync<T>(NpgsqlConnection connection, string table, IEnumerable<T> rows, Func<NpgsqlBinaryImporter, T, Task> write)
    {
        await using var copy = await connection.BeginBinaryImportAsync($"copy {table} from stdin (format binary)");
        foreach (var row in rows)
        {
            await copy.StartRowAsync();
            await write(copy, row);
        }

        await copy.CompleteAsync();
    }
}
