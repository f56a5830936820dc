using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Dossiers;

/// <summary>All records of a plant, as a store holds them, and the pure rule by which one unit's dossier is gathered from them.</summary>
internal sealed class Pool
{
    private readonly ILookup<Subject, Record> _about;
    private readonly ILookup<Subject, Link> _from;
    private readonly Dictionary<Guid, Record> _byId;

    private Pool(IReadOnlyList<Record> records)
    {
        Records = records;
        _byId = records.ToDictionary(r => r.Id);
        var rows = records.SelectMany(r => r.Links().Select(l => (Link: l, Record: r))).ToList();
        _about = rows.Where(r => r.Link.Kind == LinkKind.About).ToLookup(r => r.Link.From, r => r.Record);
        _from = rows.Where(r => r.Link.Kind != LinkKind.About).Select(r => r.Link).ToLookup(l => l.From);
    }

    public IReadOnlyList<Record> Records { get; }

    /// <summary>
    /// Stores events in their order of arrival: the same content again is dropped, other content under a known id is
    /// kept under an id of its own.
    /// </summary>
    public static Pool Store(IEnumerable<CloudEvent> arriving)
    {
        var first = new Dictionary<Guid, string>();
        var records = new List<Record>();
        foreach (var sent in arriving)
        {
            var id = sent.RecordId;
            if (first.TryGetValue(id, out var hash) && hash != sent.ContentHash) id = RecordId.OfConflict(sent.Source, sent.Id, sent.ContentHash);
            if (!first.TryAdd(id, sent.ContentHash)) continue;
            var at = sent.Time.AddSeconds(5);
            records.Add(Record.Read(Record.Write(sent, id, "device", "intake", at, at), records.Count + 1));
        }

        return new Pool(records);
    }

    public Dossier Everything(Subject unit) => new(unit, Records.Count, Records);

    /// <summary>
    /// Gathers a unit's dossier: everything about the subjects that the links lead down to; with each of these records its
    /// family, which is the record it changes or contradicts and all that change or contradict that one; and the
    /// certificates of the families' people, because a correction can move work to a subject no link of theirs names.
    /// </summary>
    public Dossier Gather(Subject unit)
    {
        var seen = new HashSet<(Subject, Links.Reach)> { (unit, Links.Reach.Part) };
        var queue = new Queue<(Subject Subject, Links.Reach Reach)>(seen);
        while (queue.TryDequeue(out var here))
        {
            foreach (var link in _from[here.Subject])
            {
                if (Links.Follow(here.Reach, link.Kind) is { } reach && seen.Add((link.To, reach))) queue.Enqueue((link.To, reach));
            }
        }

        var bearing = Families(seen.SelectMany(s => _about[s.Item1]));
        var people = bearing.Where(r => Subject.IsId(r.Person, "person")).SelectMany(r => _about[Subject.Person(r.Person!)]);
        var gathered = Families(bearing.Concat(people));
        return new Dossier(unit, Records.Count, [.. Records.Where(gathered.Contains)]);
    }

    private HashSet<Record> Families(IEnumerable<Record> records)
    {
        var all = records.ToHashSet();
        var keys = new HashSet<Subject>();
        var queue = new Queue<Record>(all);
        while (queue.TryDequeue(out var record))
        {
            foreach (var key in record.Links().Select(l => l.From).Where(s => s.Kind == "record").Append(Subject.Record(record.Id)))
            {
                if (!keys.Add(key)) continue;
                foreach (var relative in _byId.TryGetValue(Guid.Parse(key.Id), out var named) ? _about[key].Append(named) : _about[key])
                {
                    if (all.Add(relative)) queue.Enqueue(relative);
                }
            }
        }

        return all;
    }

    /// <summary>An event of a station.</summary>
    public static CloudEvent Send(string source, string id, string type, JsonNode data, DateTimeOffset time, string? person = "p-101") =>
        CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
        {
            ["specversion"] = "1.0",
            ["id"] = id,
            ["source"] = source,
            ["type"] = type,
            ["time"] = time.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture),
            ["person"] = person,
            ["clockoffsetms"] = 0,
            ["data"] = data.DeepClone(),
        }));

    public static CloudEvent Send(string source, string id, IFact fact, DateTimeOffset time, string? person = "p-101") =>
        Send(source, id, FactCatalog.Of(fact).Type, JsonObject.Create(FactCatalog.Write(fact))!, time, person);
}
