using Microsoft.AspNetCore.Authentication;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

public static class SignInEndpoints
{
    public sealed record SignInRequest(string Person, string Password);

    public static void MapSignIn(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/sign-in", async (SignInRequest request, HttpContext http, Signing signing, PasskeySettings passkeys) =>
            {
                var signed = signing.Password(request.Person, request.Password, http.Connection.RemoteIpAddress);
                if (signed.Person is not { } person) return Problems.Result(signed.Problem!);
                if (passkeys.Asks(person)) return Problems.Result(Problems.Of(401, "passkey-needed", "Sign in with the passkey", $"{person.Id} signs in with a passkey beside the password, in a browser on the page /sign-in."));
                await http.SignInAsync(Access.Principal(person, passkeys));
                return Results.Json(new { person = person.Id, displayName = person.DisplayName, roles = person.Roles, chooseOwnSecrets = person.PinIsGiven });
            })
            .AllowAnonymous().WithTags("People").WithSummary("Sign a person in; sets the session cookie").ProducesProblem(401).ProducesProblem(429);
        app.MapPost("/v1/sign-out", async (HttpContext http) => { await http.SignOutAsync(); return Results.NoContent(); })
            .AllowAnonymous().WithTags("People").WithSummary("Sign out");
    }
}
