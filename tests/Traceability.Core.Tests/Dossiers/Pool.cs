using Traceability.PlantSimulator.Story;
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

    public Dossier Everything(Subject unit) => new(unit, Records.Count, Records, PlantStory.Time);

    /// <summary>
    /// Gathers a unit's dossier: everything about the subjects that the links lead down to; with each of these records its
    /// family (the record it changes or contradicts, and all that change or contradict that one, and so on) and its
    /// person's certificates, because a correction can move work to a subject no link of its own names.
    /// </summary>
    public Dossier Gather(Subject unit)
    {
        var seen = new HashSet<(Subject, Links.Reach)> { (unit, Links.Reach.Part) };
        var walk = new Queue<(Subject Subject, Links.Reach Reach)>(seen);
        while (walk.TryDequeue(out var here))
        {
            foreach (var link in _from[here.Subject])
            {
                if (Links.Follow(here.Reach, link.Kind) is { } reach && seen.Add((link.To, reach))) walk.Enqueue((link.To, reach));
            }
        }

        var gathered = seen.SelectMany(s => _about[s.Item1]).ToHashSet();
        var queue = new Queue<Record>(gathered);
        while (queue.TryDequeue(out var record))
        {
            foreach (var relative in Relatives(record).Where(gathered.Add)) queue.Enqueue(relative);
        }

        return new Dossier(unit, Records.Count, [.. Records.Where(gathered.Contains)], PlantStory.Time);
    }

    private IEnumerable<Record> Relatives(Record record)
    {
        var named = record.Links().Select(l => l.From).Where(s => s.Kind == "record").ToList();
        return _about[Subject.Record(record.Id)]
            .Concat(named.SelectMany(key => _about[key]))
            .Concat(named.Where(key => _byId.ContainsKey(Guid.Parse(key.Id))).Select(key => _byId[Guid.Parse(key.Id)]))
            .Concat(Subject.IsId(record.Person, "person") ? _about[Subject.Person(record.Person!)] : []);
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
