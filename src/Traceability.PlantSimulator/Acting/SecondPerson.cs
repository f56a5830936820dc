using System.Text.Json;

namespace Traceability.PlantSimulator.Acting;

/// <summary>The plant's second person: approves every restatement that waits, each with the PIN, as the story's deputy does.</summary>
public static class SecondPerson
{
    /// <summary>Approves what waits now.</summary>
    /// <returns>How many were approved.</returns>
    /// <exception cref="RefusedException">The service did not take an approval.</exception>
    public static async Task<int> ApproveAsync(Session second, CancellationToken cancel)
    {
        var waiting = await second.JsonAsync(HttpMethod.Get, "v1/approvals", null, cancel);
        foreach (var entry in waiting.EnumerateArray())
        {
            await second.JsonAsync(HttpMethod.Post, $"v1/approvals/{entry.GetProperty("id").GetString()}/approvals",
                new { contentHash = entry.GetProperty("contentHash").GetString(), pin = second.Pin }, cancel);
        }

        return waiting.GetArrayLength();
    }
}
