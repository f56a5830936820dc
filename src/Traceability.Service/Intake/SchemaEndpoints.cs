using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Service.Operations;

namespace Traceability.Service.Intake;

/// <summary>The vocabulary over HTTP: what an outside station needs to send facts.</summary>
public static class SchemaEndpoints
{
    public static void MapSchemas(this IEndpointRouteBuilder app)
    {
        app.MapGet("/v1/schemas", () => Results.Json(FactCatalog.All.Values.OrderBy(f => f.Type, StringComparer.Ordinal)
                .Select(f => new { type = f.Type, kind = f.Kind, role = f.Role, roles = f.Roles, summary = f.Summary, schema = FactSchema.IdOf(f.Type) })))
            .AllowAnonymous().WithTags("Facts").WithSummary("Every fact type: reading or act, its roles, the address of its schema");
        app.MapGet("/v1/schemas/{type}", (string type) => FactCatalog.All.TryGetValue(type, out var fact)
                ? Results.Text(FactSchema.Of(fact).ToJsonString(), "application/schema+json")
                : type == ProfileSchema.Name ? Results.Text(ProfileSchema.Create().ToJsonString(), "application/schema+json")
                : type == FactSchema.EnvelopeName ? Results.Text(FactSchema.Envelope().ToJsonString(), "application/schema+json")
                : Problems.Result(Problems.Of(404, "type-unknown", "This type is not known", $"'{type}' is not a fact type. GET /v1/schemas lists them; /v1/schemas/cloudevent describes the CloudEvent around the content.")))
            .AllowAnonymous().WithTags("Facts").WithSummary("JSON Schema (2020-12) of one fact type's content; 'cloudevent' for the event around it, 'profile-file' for a file of limits").ProducesProblem(404);
    }
}
