using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Strength;

public static class StrengthEndpoints
{
    public static void MapStrength(this IEndpointRouteBuilder app) =>
        app.MapGet("/v1/mixes/{mix}/strength", async (string mix, StrengthReader reader, CancellationToken cancel) =>
                Subject.IsId(mix, "mix") && await reader.ReadAsync(mix, cancel) is { } strength
                    ? Results.Json(new { @for = "the plant's quality engineer and laboratory; no evidence, in no packet", strength }, FactJson.Options)
                    : Problems.Result(Problems.Of(404, "mix-unknown", "No series of this mix",
                        $"The approval of mix '{mix}', or a unit of it under a profile that says what a strength test is, is not recorded. Record the approval of the mix and schedule a unit.")))
            .RequireAuthorization(Access.Read).WithTags("Strength")
            .WithSummary("Strength tests of a mix with the criteria of ACI 318, control chart, standard of control, and early warning").ProducesProblem(404);
}
