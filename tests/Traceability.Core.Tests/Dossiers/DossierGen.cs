using System.Text.Json;
using System.Text.Json.Nodes;
using CsCheck;
using Traceability.Core.Events;
using Traceability.Core.Quantities;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;

namespace Traceability.Core.Tests.Dossiers;

/// <summary>
/// What several stations of a plant send about a few units, with what goes wrong in real life added at random: corrections,
/// chains of them, two of one version, dangling ones, facts moved to another unit, withdrawals, other contents under one
/// id, one ticket under two ids, equal times, facts of a plant next door, facts that never come.
/// </summary>
internal static class DossierGen
{
    private static readonly DateTimeOffset s_start = new(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5));

    private static readonly IReadOnlyList<Scenario> s_stories =
    [
        PlantStory.RigidFrame(1, 2, s_start),
        PlantStory.RigidFrame(2, 3, s_start, Mishaps.All & ~Mishaps.ForeignHeat),
        PlantStory.RigidFrame(3, 2, s_start, Mishaps.CoverMistyped | Mishaps.TicketTwice | Mishaps.OtherContentUnderOneId),
    ];

    private static readonly IReadOnlyList<CloudEvent> s_nextDoor = [.. PlantStory.RigidFrame(9, 1, s_start, key: "N-").Facts.Select(f => f.Event)];

    public sealed record Sent(IReadOnlyList<CloudEvent> Events, IReadOnlyList<string> Units, IReadOnlyList<string> Did)
    {
        public override string ToString() => string.Join("; ", Did);
    }

    private static readonly Gen<Action<Making>> s_change = Gen.Select(Gen.Int[0, 15], Gen.Int[0, 1_000_000], Gen.Int[0, 1_000_000])
        .Select((kind, a, b) => (Action<Making>)(m => m.Change(kind, a, b)));

    public static readonly Gen<Sent> All = Gen.Select(Gen.Int[0, s_stories.Count - 1], s_change.Array[0, 8]).Select((story, changes) =>
    {
        var making = new Making(s_stories[story]);
        foreach (var change in changes) change(making);
        return making.Done();
    });

    /// <summary>One of them, with as many changes as asked, by a seed.</summary>
    public static Sent Example(int seed, int changes)
    {
        var random = new Random(seed);
        var making = new Making(s_stories[seed % s_stories.Count]);
        for (var i = 0; i < changes; i++) making.Change(random.Next(16), random.Next(1_000_000), random.Next(1_000_000));
        return making.Done();
    }

    public static CloudEvent[] Shuffled(IEnumerable<CloudEvent> events, int seed)
    {
        var shuffled = events.ToArray();
        new Random(seed).Shuffle(shuffled);
        return shuffled;
    }

    private sealed class Making(Scenario story)
    {
        private readonly List<CloudEvent> _events = [.. story.Facts.Select(f => f.Event)];
        private readonly List<string> _did = [];
        private readonly Dictionary<Guid, int> _versions = [];

        public Sent Done() => new([.. _events], story.Units, _did);

        public void Change(int kind, int a, int b)
        {
            var original = _events[a % _events.Count];
            if (original.Type is "record.corrected.v1" or "record.withdrawn.v1") original = _events[0];
            var data = JsonObject.Create(original.Data)!;
            var at = original.Time.AddMinutes(b % 3000);
            var id = $"made-{_did.Count}";
            var next = _versions.GetValueOrDefault(original.RecordId, 1);
            _did.Add($"{kind}: {original.Type} {original.Id}");
            switch (kind)
            {
                case 0:
                    Correct(original, next, data, at, id);
                    break;
                case 1 or 2:
                    Correct(original, next, Varied(data, b), at, id);
                    break;
                case 3:
                    Correct(original, next, Moved(data, b), at, id);
                    break;
                case 4:
                    // Of a version already replaced, or of one that is not there.
                    Correct(original, b % 2 == 0 ? Math.Max(1, next - 1) : next + 1, Varied(data, b), at, id);
                    break;
                case 5:
                    Withdraw(original.RecordId, b % 3 == 0 ? next + 1 : next, at, id);
                    break;
                case 6:
                    _events.Add(Pool.Send(original.Source, original.Id, original.Type, b % 2 == 0 ? Varied(data, b) : Moved(data, b), original.Time, original.Person));
                    break;
                case 7:
                    _events.Add(Pool.Send("/plant/files", id, original.Type, data, at, original.Person));
                    break;
                case 8:
                    _events.Add(Pool.Send("/plant/files", id, original.Type, Varied(data, b), at, original.Person));
                    break;
                case 9:
                    _events.Add(Pool.Send("/plant/other", id, original.Type, Varied(data, b), original.Time.ToOffset(TimeSpan.Zero), original.Person));
                    break;
                case 10:
                    _events.AddRange(s_nextDoor.Skip(b % s_nextDoor.Count).Take(10));
                    break;
                case 11:
                    _events.Remove(original);
                    break;
                case 12:
                    // Withdraw a change that was made, or a withdrawal.
                    if (_events.LastOrDefault(e => e.Source == "/plant/office" && e.Type.StartsWith("record.", StringComparison.Ordinal)) is { } change) Withdraw(change.RecordId, 1, at, id);
                    break;
                case 13 or 14:
                    _events.Add(Pool.Send("/plant/desk", id, Decided(story.Units[a % story.Units.Count], at, b), at, "p-102"));
                    break;
                default:
                    Withdraw(b % 2 == 0 ? Guid.Parse("00000000-0000-5000-8000-000000000001") : RecordId.Of("/plant/office", "made-0"), 1, at, id);
                    break;
            }
        }

        // What decides, ends, waives or accepts, and what becomes of a unit.
        private IFact Decided(string unit, DateTimeOffset at, int pick)
        {
            var basis = new DecisionBasis(1, new string('a', 64), "2026.2");
            var cage = _events.Where(e => e.Type == "cage.tied.v1").Select(e => e.Data.GetProperty("cage").GetString()!).ElementAtOrDefault(pick % 5) ?? "CG-1";
            return (pick % 17) switch
            {
                0 => new PourReleased(unit, basis, null, new ReleaseScope(Cage: cage), pick % 2 == 0 ? at.AddHours(9) : null),
                1 => new ShipReleased(unit, basis),
                2 => new HoldOverridden(unit, (HoldKind)(pick % 6), "wanted", "p-101", [], false, basis),
                3 => new ReleaseUndone(unit, HoldKind.Pour, RecordId.Of("/plant/desk", $"made-{pick % 8}"), "wrong unit"),
                4 => new AgencyHoldReleased(unit, HoldKind.Pour),
                5 => new AgencyWaived([.. story.Units], HoldKind.Place, at.AddDays(-3), at.AddDays(pick % 5), "L-1", "place.air"),
                6 => new NoticeGiven([.. story.Units], HoldKind.Pour, at.AddDays(1), "message"),
                7 => new WeatherRead([.. story.Units], Reading.Parse("50"), true),
                8 => new CageMoved(cage, "bay 2"),
                9 => new CageSwapped(unit, cage, "CG-OTHER", "bent"),
                10 => new NonconformanceRaised("NC-1", [.. story.Units], NonconformanceClass.Minor, pick % 2 == 0, "cover", "close-up.cover"),
                11 => new NonconformanceDisposed("NC-1", (DispositionKind)(pick % 4), "as is"),
                12 => new NonconformanceApproved("NC-1", (Approver)(pick % 3), "L-4", at, [new AcceptedFinding("close-up.cover")]),
                13 => new UnitReturned(unit, "chipped", "bay 1"),
                14 => new UnitRejected(unit, "dropped"),
                15 => new UnitRecast(unit, story.Units[(pick + 1) % story.Units.Count] == unit ? "OTHER" : story.Units[(pick + 1) % story.Units.Count], "dropped"),
                _ => new AgencyAccepted(unit, [new AcceptedFinding("place.flow")], "L-3", DateOnly.FromDateTime(at.Date)),
            };
        }

        private void Correct(CloudEvent original, int version, JsonObject data, DateTimeOffset at, string id)
        {
            _events.Add(Pool.Send("/plant/office", id, new RecordCorrected(original.RecordId, version, original.Type, JsonSerializer.SerializeToElement(data), "mistyped", version % 2 == 0 ? at : null), at));
            _versions[original.RecordId] = version + 1;
        }

        private void Withdraw(Guid record, int version, DateTimeOffset at, string id)
        {
            _events.Add(Pool.Send("/plant/office", id, new RecordWithdrawn(record, version, "entered twice"), at));
            _versions[record] = version + 1;
        }

        // One reading a little different, wherever the content has one.
        private static JsonObject Varied(JsonObject data, int pick)
        {
            var varied = data.DeepClone().AsObject();
            var readings = Leaves(varied).Where(l => l.Value is JsonValue v && v.TryGetValue<string>(out var text) && Reading.TryParse(text, out var r) && r.Value > 1).ToList();
            if (readings.Count == 0) return varied;
            var (parent, key, value) = readings[pick % readings.Count];
            var changed = Reading.Of(decimal.Round(Reading.Parse(value!.GetValue<string>()).Value * (pick % 2 == 0 ? 0.9m : 1.01m), 2)).Text;
            if (parent is JsonArray list) list[(int)key] = changed;
            else if (key is string name && FieldHoldsReading(name)) parent.AsObject()[name] = changed;
            return varied;
        }

        private static bool FieldHoldsReading(string name) => UnitNames.Of(name) is not null;

        // The fact told of another unit, cage, batch or sample of the same story.
        private JsonObject Moved(JsonObject data, int pick)
        {
            var text = data.ToJsonString();
            var here = story.Units.FirstOrDefault(u => text.Contains(u, StringComparison.Ordinal));
            var there = story.Units[pick % story.Units.Count];
            if (here is not null && here != there) return JsonNode.Parse(text.Replace(here, there, StringComparison.Ordinal))!.AsObject();
            return JsonNode.Parse(text.Replace("p-107", "p-112", StringComparison.Ordinal))!.AsObject();
        }

        private static IEnumerable<(JsonNode Parent, object Key, JsonNode? Value)> Leaves(JsonNode node) => node switch
        {
            JsonObject o => o.ToList().SelectMany(p => p.Value is JsonObject or JsonArray ? Leaves(p.Value) : [(o, (object)p.Key, p.Value)]),
            JsonArray a => a.ToList().SelectMany((v, i) => v is JsonObject or JsonArray ? Leaves(v) : [(a, (object)i, v)]),
            _ => [],
        };
    }
}
