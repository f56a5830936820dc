using Microsoft.AspNetCore.Authentication;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

public static class SignInEndpoints
{
    public sealed record SignInRequest(string Person, string Password);

    public static void MapSignIn(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/sign-in", async (SignInRequest request, HttpContext http, Signing signing) =>
            {
                var signed = signing.Password(request.Person, request.Password, http.Connection.RemoteIpAddress);
                if (signed.Person is not { } person) return Problems.Result(signed.Problem!);
                await http.SignInAsync(Access.Principal(person));
                return Results.Json(new { person = person.Id, displayName = person.DisplayName, roles = person.Roles, chooseOwnSecrets = person.PinIsGiven });
            })
            .AllowAnonymous().WithTags("People").WithSummary("Sign a person in; sets the session cookie").ProducesProblem(401).ProducesProblem(429);
        app.MapPost("/v1/sign-out", async (HttpContext http) => { await http.SignOutAsync(); return Results.NoContent(); })
            .AllowAnonymous().WithTags("People").WithSummary("Sign out");
    }
}
