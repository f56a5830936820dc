using System.Reflection;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.Filters;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

/// <summary>The action of one handler of a page, where it is another than the page's own.</summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class MayAttribute(string action) : Attribute
{
    public string Action { get; } = action;
}

/// <summary>Holds a page's handlers to their own action: a page that all may read can have a form that some may send.</summary>
public sealed class HandlerDoors : IAsyncPageFilter
{
    public Task OnPageHandlerSelectionAsync(PageHandlerSelectedContext context) => Task.CompletedTask;

    public async Task OnPageHandlerExecutionAsync(PageHandlerExecutingContext context, PageHandlerExecutionDelegate next)
    {
        var http = context.HttpContext;
        if (context.HandlerMethod?.MethodInfo.GetCustomAttribute<MayAttribute>() is { } may)
        {
            var permission = WhoMay.To(may.Action);
            // Whose the object is must be said once: what the handler binds could otherwise be another value than the one looked at here.
            var said = (http.Request.HasFormContentType ? http.Request.Form[Permission.PersonValue].ToArray() : []).Concat(http.Request.Query[Permission.PersonValue]).Distinct(StringComparer.Ordinal).ToList();
            var person = said.FirstOrDefault();
            if (said.Count > 1 || !permission.Allows(http.User, permission.IsOwn(http.User, person)))
            {
                context.Result = new ForbidResult();
                return;
            }
        }

        await next();
    }
}
