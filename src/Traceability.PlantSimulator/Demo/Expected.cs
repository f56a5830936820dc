using System.Text.Json;
using Traceability.PlantSimulator.Story;

namespace Traceability.PlantSimulator.Demo;

/// <summary>How a unit must stand when the demonstration's story has been told.</summary>
/// <param name="Open">A requirement that must be among the open items, for the reason the story gave; null when none is told.</param>
public sealed record Expected(string Pour, string Strip, string Ship, bool Contradicted = false, string? Open = null)
{
    private static readonly Expected Shipped = new("released", "released", "released");

    /// <summary>Expectations in the order of <see cref="DemoStory.Castings"/>.</summary>
    public static IReadOnlyList<Expected> All { get; } = [.. DemoStory.Castings.Select(Of)];

    private static Expected Of(Casting casting, int index) => casting.Mishaps switch
    {
        Mishaps.MachineFoundOut => Shipped with { Contradicted = true, Open = "strip.strength" },
        Mishaps.LapsedTechnician => new("released", "released", "held", Open: "place.tester"),
        Mishaps.ForeignHeat => new("held", "held", "held", Open: "tying.domestic"),
        Mishaps.LowStripSet => new("released", "held", "held", Open: "strip.strength"),
        _ when index >= 11 => new("ready", "held", "held", Open: "strip.strength"),
        _ when index == 9 => new("released", "released", "held", Open: "ship.strength"),
        _ => Shipped,
    };

    /// <summary>What differs between a unit as the service judges it and what the story must lead to; null when nothing does.</summary>
    public string? Differs(JsonElement unit)
    {
        var holds = unit.GetProperty("holds").EnumerateArray().ToDictionary(h => h.GetProperty("kind").GetString()!);
        foreach (var (kind, state) in new[] { ("pour", Pour), ("strip", Strip), ("ship", Ship) })
        {
            var is_ = holds[kind].GetProperty("state").GetString();
            if (is_ != state) return $"the {kind} hold is {is_} and should be {state}";
        }

        var contradicted = holds.Values.Any(h => h.GetProperty("contradicted").GetBoolean());
        if (contradicted != Contradicted) return contradicted ? "later evidence contradicts a release, and should not" : "no later evidence contradicts a release, and it should";
        var open = holds.Values.SelectMany(h => h.GetProperty("openItems").EnumerateArray()).Select(o => o.GetProperty("requirement").GetString()).Distinct().ToList();
        return Open is null || open.Contains(Open) ? null : $"{Open} must be open; open are: {string.Join(", ", open)}";
    }
}
