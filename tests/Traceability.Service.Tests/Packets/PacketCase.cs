using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Log;
using Traceability.Service.Packets;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Tests.Packets;

/// <summary>A story as it stands in a store and its sealed log, ready for a packet of some of its units.</summary>
internal sealed record PacketCase(Scenario Story, IReadOnlyList<Record> Records, LogKey Key, DateTimeOffset IssuedAt)
{
    public const string Origin = "plant-1.example/records";

    private static readonly DateTimeOffset Start = new(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5));

    /// <summary>Units of the story with the releases their inspector gave.</summary>
    /// <param name="confirmed">Whether the limits of the profile are confirmed against their document, as the story has them.</param>
    /// <param name="change">Another content for a fact, or the fact itself; null leaves the fact out.</param>
    /// <param name="first">Facts of the day before the story, a minute apart.</param>
    /// <param name="also">Facts beside the story's, recorded a minute apart after its end.</param>
    public static PacketCase Of(int units = 1, Mishaps mishaps = Mishaps.None, bool confirmed = true, DateTimeOffset? until = null, Func<IFact, IFact?>? change = null,
        Func<IReadOnlyList<Record>, IEnumerable<IFact>>? also = null, IReadOnlyList<IFact>? first = null)
    {
        var story = PlantStory.RigidFrame(11, [.. Enumerable.Range(0, units).Select(i => new Casting(3 + i / 2, i == 0 ? mishaps : Mishaps.None))], Start, until: until, confirmed: confirmed);
        var sent = story.Facts.Select(f => (f.Event, f.Device, f.ArrivesAt))
            .Concat(story.Releases.Select(r => (Event: Release(r), Device: "service", ArrivesAt: r.At))).OrderBy(x => x.ArrivesAt).ToList();
        var records = (first ?? []).Select((f, i) => Recorded(f, Start.AddDays(-1).AddMinutes(i), i + 1)).ToList();
        var contents = new Dictionary<Guid, string>();
        foreach (var (e, device, arrivesAt) in sent)
        {
            var fact = FactCatalog.Read(FactCatalog.All[e.Type], e.Data);
            if ((change is null ? fact : change(fact)) is not { } changed) continue;
            var written = ReferenceEquals(changed, fact) ? e : With(e, changed);
            if (contents.TryGetValue(written.RecordId, out var known) && known == written.ContentHash) continue;
            var id = contents.TryAdd(written.RecordId, written.ContentHash) ? written.RecordId : RecordId.OfConflict(written.Source, written.Id, written.ContentHash);
            records.Add(Record.Read(Record.Write(written, id, device, "intake", arrivesAt, arrivesAt.AddSeconds(1)), records.Count + 1));
        }

        foreach (var (fact, i) in (also?.Invoke([.. records]) ?? []).Select((f, i) => (f, i))) records.Add(Recorded(fact, (until ?? story.End).AddMinutes(i), records.Count + 1));
        return new PacketCase(story, records, LogKey.FromSeed(Enumerable.Range(0, 32).Select(i => (byte)i).ToArray()), (until ?? story.End).AddDays(1));
    }

    /// <summary>A fact as it stands in the store, told by the quality engineer.</summary>
    public static Record Recorded(IFact fact, DateTimeOffset at, long position)
    {
        var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
        {
            ["specversion"] = "1.0",
            ["id"] = string.Create(CultureInfo.InvariantCulture, $"also-{position}"),
            ["source"] = "/office/1",
            ["type"] = FactCatalog.Of(fact).Type,
            ["time"] = at.ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture),
            ["person"] = "p-101",
            ["clockoffsetms"] = 0,
            ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        }));
        return Record.Read(Record.Write(sent, sent.RecordId, "office-1", "intake", at, at.AddSeconds(1)), position);
    }

    /// <summary>The same store with more facts in it.</summary>
    public PacketCase With(params IFact[] more)
    {
        var last = Records.Max(r => r.RecordedAt).AddMinutes(1);
        return this with { Records = [.. Records, .. more.Select((f, i) => Recorded(f, last.AddMinutes(i).ToOffset(Start.Offset), Records.Count + 1 + i))] };
    }

    public PacketRequest Request(bool draft = false, params string[] units)
    {
        var leaves = Records.Select(r => Record.LeafHash(r.Bytes.Span)).ToList();
        var checkpoint = new Checkpoint(Origin, leaves.Count, Merkle.Root(leaves));
        var proofs = Records.Select((r, i) => new InclusionProof(r.Id, i, leaves[i],
            [.. Merkle.InclusionRanges(i, leaves.Count).Select(x => Merkle.Root(leaves.Skip((int)x.Low).Take((int)(x.High - x.Low))))])).ToList();
        var named = units.Length == 0 ? Story.Units : units;
        return new PacketRequest("PK-2026-0001", "plant-1", [.. named.Select(Unit)], checkpoint.Sign(Key), proofs, Key.PublicKey, IssuedAt, "p-101", draft);
    }

    /// <summary>The packet as it is handed out: its issue recorded and sealed, its manifest signed; a draft as it is.</summary>
    public Packet Build(PacketRequest request)
    {
        var unsigned = PacketBuilder.Prepare(request);
        if (request.Draft) return unsigned.Draft();
        var packet = unsigned.Unsealed;
        IFact fact = packet.Supplement is { } of
            ? new SupplementIssued(of.Packet, of.Number, packet.Units, packet.ManifestSha256, of.Pages, of.Answers)
            : new RecordPacketIssued(packet.Id, packet.Units, packet.ManifestSha256, packet.Pending);
        var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
        {
            ["specversion"] = "1.0", ["id"] = "issued-" + packet.Id, ["source"] = "/service/decisions", ["type"] = FactCatalog.Of(fact).Type, ["subject"] = fact.About.Key,
            ["time"] = request.IssuedAt.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffffzzz", CultureInfo.InvariantCulture), ["person"] = request.IssuedBy, ["clockoffsetms"] = 0, ["assurance"] = "pin",
            ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        }));
        var at = Records.Max(r => r.RecordedAt).AddDays(2);
        var record = Record.Read(Record.Write(sent, sent.RecordId, "service", "service", at, at), Records.Count + 1);
        var leaves = Records.Append(record).Select(r => Record.LeafHash(r.Bytes.Span)).ToList();
        byte[] Range(LeafRange range) => Merkle.Root(leaves.Skip((int)range.Low).Take((int)(range.High - range.Low)));
        var checkpoint = new Checkpoint(Origin, leaves.Count, Merkle.Root(leaves));
        var proof = new IssueProof(record, checkpoint.Sign(Key), new InclusionProof(record.Id, Records.Count, leaves[^1], [.. Merkle.InclusionRanges(Records.Count, leaves.Count).Select(Range)]),
            [.. Merkle.ConsistencyRanges(Records.Count, leaves.Count).Select(Range)]);
        var note = SignedNote.Sign($"{Origin}/manifest\nrecord packet manifest\n{Convert.ToBase64String(System.Security.Cryptography.SHA256.HashData(unsigned.Manifest))}\n", Origin + "/manifest", Key);
        return unsigned.Signed(Origin, System.Text.Encoding.UTF8.GetBytes(note), proof);
    }

    public PacketUnit Unit(string serial)
    {
        var dossier = new Dossier(Subject.Unit(serial), Records.Count, Records, PlantStory.Time);
        return new PacketUnit(dossier, Judge.Dossier(dossier, IssuedAt));
    }

    private static CloudEvent With(CloudEvent e, IFact fact)
    {
        var json = JsonNode.Parse(e.Canonical.Span)!.AsObject();
        json["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText());
        return CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(json));
    }

    private static CloudEvent Release(StoryRelease release)
    {
        var basis = new DecisionBasis(100, new string('a', 64), Core.Judging.Rules.Version);
        IFact fact = release.Hold switch
        {
            HoldKind.Pour => new PourReleased(release.Unit, basis),
            HoldKind.Strip => new StripReleased(release.Unit, basis),
            _ => new ShipReleased(release.Unit, basis, "last look at the gate"),
        };
        return CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
        {
            ["specversion"] = "1.0",
            ["id"] = $"release-{release.Unit}-{release.Hold}",
            ["source"] = "/service/decisions",
            ["type"] = FactCatalog.Of(fact).Type,
            ["subject"] = fact.About.Key,
            ["time"] = release.At.ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture),
            ["person"] = release.Person,
            ["clockoffsetms"] = 0,
            ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        }));
    }
}
