using System.Globalization;
using System.Text.Json.Nodes;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.PlantSimulator.Story;

/// <summary>Writes facts as CloudEvents, each station numbering its own.</summary>
internal sealed class EventWriter(string prefix, int seed)
{
    private readonly Dictionary<string, int> _numbers = new(StringComparer.Ordinal);

    // Every station's clock is a little off and says by how much, as measured at its last sync.
    private readonly Dictionary<string, long> _offsets = Plant.Stations
        .Select((s, i) => (s.Source, Offset: (seed * 37L + i * 101L) % 400 - 200)).ToDictionary(s => s.Source, s => s.Offset, StringComparer.Ordinal);

    public CloudEvent Write(Station station, Worker person, DateTimeOffset at, IFact fact, string? id = null)
    {
        if (id is null)
        {
            var number = _numbers[station.Source] = _numbers.GetValueOrDefault(station.Source) + 1;
            id = string.Create(CultureInfo.InvariantCulture, $"{prefix}{station.Device}-s{seed}-{number:D5}");
        }

        var offset = _offsets[station.Source];
        var envelope = new JsonObject
        {
            ["specversion"] = "1.0",
            ["id"] = id,
            ["source"] = station.Source,
            ["type"] = FactCatalog.Of(fact).Type,
            ["subject"] = fact.About.Key,
            ["time"] = at.AddMilliseconds(offset).ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture),
            ["datacontenttype"] = "application/json",
            ["person"] = person.Id,
            ["clockoffsetms"] = offset,
            ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        };
        return CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(envelope));
    }
}
