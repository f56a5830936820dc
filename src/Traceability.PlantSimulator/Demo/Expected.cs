using System.Text.Json;
using Traceability.PlantSimulator.Story;

namespace Traceability.PlantSimulator.Demo;

/// <summary>How a unit must stand when the demonstration's story has been told.</summary>
/// <param name="Open">Requirements that must be among the open items of the ship hold, each for a reason the story gave.</param>
public sealed record Expected(string Pour, string Strip, string Ship, bool Contradicted = false, params string[] Open)
{
    private static readonly Expected Shipped = new("released", "released", "released");

    /// <summary>Expectations in the order of <see cref="DemoStory.Castings"/>.</summary>
    public static IReadOnlyList<Expected> All { get; } = [.. DemoStory.Castings.Select(Of)];

    private static Expected Of(Casting casting, int index) => casting.Mishaps switch
    {
        Mishaps.MachineFoundOut => Shipped with { Contradicted = true },
        Mishaps.LapsedTechnician => new("released", "released", "held"),
        Mishaps.ForeignHeat => new("held", "held", "held"),
        Mishaps.LowStripSet => new("released", "held", "held"),
        _ when index >= 11 => new("ready", "held", "held"),
        _ when index == 9 => new("released", "released", "held"),
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
        return contradicted == Contradicted ? null
            : contradicted ? "later evidence contradicts a release, and should not" : "no later evidence contradicts a release, and it should";
    }
}
